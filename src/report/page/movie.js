"use strict";
// A movie: decodes the contours and draws one snapshot with its glass and scale bar.
function readMovie(json) {
  const movie = JSON.parse(json);
  const raw = atob(movie.data);
  const words = new Uint16Array(raw.length / 2);
  for (let i = 0; i < words.length; i++) words[i] = raw.charCodeAt(2 * i) | (raw.charCodeAt(2 * i + 1) << 8);
  const starts = [];
  let body = 0, node = 0;
  for (const count of movie.bodies) {
    const here = [];
    for (let b = 0; b < count; b++, body++) {
      here.push([node, movie.nodes[body]]);
      node += movie.nodes[body];
    }
    starts.push(here);
  }
  // Outlines at snapshot i as lists of z and h in metres.
  movie.snapshot = (i) => starts[i].map(([first, n]) => {
    const z = new Float64Array(n), h = new Float64Array(n);
    for (let k = 0; k < n; k++) {
      z[k] = movie.from + (movie.to - movie.from) * words[2 * (first + k)] / 65535;
      h[k] = movie.rim * words[2 * (first + k) + 1] / 65535;
    }
    return { z, h };
  });
  delete movie.data;
  return movie;
}

function siText(value, unit) {
  if (value === 0) return "0 " + unit;
  for (const [size, prefix] of [[1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"]]) {
    if (Math.abs(value) >= 0.9995 * size) return Number((value / size).toPrecision(4)) + " " + prefix + unit;
  }
  return value.toExponential(2) + " " + unit;
}

function niceBelow(most) {
  const power = Math.pow(10, Math.floor(Math.log10(most)));
  return [5, 2, 1].map((s) => s * power).find((s) => s <= most * (1 + 1e-9)) || power;
}

function drawMovie(canvas, movie, index) {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const ratio = window.devicePixelRatio || 1;
  const along = movie.to - movie.from, across = 2 * movie.rim;
  const room = canvas.clientWidth;
  const foot = 26;
  let scale = movie.down ? Math.min(room / across, 480 / along) : room / along;
  const height = movie.down ? scale * along : Math.min(Math.max(scale * across, 70), 420);
  scale = movie.down ? scale : Math.min(scale, height / across);
  const size = [Math.round(room * ratio), Math.round((height + foot) * ratio)];
  if (canvas.width !== size[0] || canvas.height !== size[1]) {
    [canvas.width, canvas.height] = size;
    canvas.style.height = height + foot + "px";
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.fillStyle = colour("--sheet");
  pen.fillRect(0, 0, room, height + foot);
  const left = movie.down ? 0 : 0.5 * (room - scale * along);
  const at = movie.down
    ? (z, r) => [0.5 * room + scale * r, scale * (z - movie.from)]
    : (z, r) => [left + scale * (z - movie.from), 0.5 * height - scale * r];
  const path = (points) => {
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
  };
  pen.save();
  pen.beginPath();
  if (movie.down) pen.rect(0.5 * room - scale * movie.rim, 0, scale * across, height);
  else pen.rect(left, 0, scale * along, height);
  pen.clip();
  pen.lineWidth = 1;
  if (movie.tip !== null) {
    pen.fillStyle = colour("--oil");
    path([at(movie.from, movie.tip), at(0.03 * movie.tip, movie.tip), at(0.03 * movie.tip, -movie.tip), at(movie.from, -movie.tip)]);
    pen.fill();
  }
  for (const side of movie.glass) for (const sign of [1, -1]) {
    path(side.map(([z, r]) => at(z, sign * r)));
    pen.fillStyle = colour("--glass");
    pen.fill();
    pen.strokeStyle = colour("--edge");
    pen.stroke();
  }
  pen.fillStyle = colour("--oil");
  pen.strokeStyle = colour("--ink");
  pen.lineWidth = 1.1;
  const bodies = movie.snapshot(index);
  for (const { z, h } of bodies) drawBody(pen, z, h, at);
  pen.restore();
  const bar = niceBelow(0.25 * (movie.down ? Math.min(across, room / scale) : along));
  const bx = movie.down ? Math.max(4, 0.5 * room - scale * movie.rim) : left;
  pen.fillStyle = colour("--ink");
  pen.fillRect(bx, height + 8, scale * bar, 3);
  pen.font = "13px 'Slenderjet Sans', Arial, sans-serif";
  pen.textBaseline = "middle";
  pen.fillText(siText(bar, "m"), bx + scale * bar + 8, height + 10);
  canvas.dataset.frame = index;
  canvas.dataset.time = movie.times[index];
  canvas.dataset.bodies = bodies.length;
}

// One body: its outline as the figures draw it, no line across a cut end.
function drawBody(pen, z, h, at) {
  const upper = Array.from(z, (place, i) => [place, h[i]]);
  const surface = (sign) => {
    pen.moveTo(...at(upper[0][0], sign * upper[0][1]));
    for (const [a, b] of upper) pen.lineTo(...at(a, sign * b));
  };
  pen.beginPath();
  upper.forEach(([a, b], i) => pen[i ? "lineTo" : "moveTo"](...at(a, b)));
  for (let i = upper.length - 1; i >= 0; i--) pen.lineTo(...at(upper[i][0], -upper[i][1]));
  pen.fill();
  pen.beginPath();
  surface(1);
  surface(-1);
  pen.stroke();
}
