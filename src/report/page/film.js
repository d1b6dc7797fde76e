"use strict";
// A film: decodes the contours and draws one snapshot with its glass and scale bar.
function readFilm(json) {
  const film = JSON.parse(json);
  const raw = atob(film.data);
  const words = new Uint16Array(raw.length / 2);
  for (let i = 0; i < words.length; i++) words[i] = raw.charCodeAt(2 * i) | (raw.charCodeAt(2 * i + 1) << 8);
  const starts = [];
  let body = 0, node = 0;
  for (const count of film.bodies) {
    const here = [];
    for (let b = 0; b < count; b++, body++) {
      here.push([node, film.nodes[body]]);
      node += film.nodes[body];
    }
    starts.push(here);
  }
  // Outlines at snapshot i as lists of z and h in metres.
  film.snapshot = (i) => starts[i].map(([first, n]) => {
    const z = new Float64Array(n), h = new Float64Array(n);
    for (let k = 0; k < n; k++) {
      z[k] = film.from + (film.to - film.from) * words[2 * (first + k)] / 65535;
      h[k] = film.rim * words[2 * (first + k) + 1] / 65535;
    }
    return { z, h };
  });
  delete film.data;
  return film;
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

function drawFilm(canvas, film, index) {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const ratio = window.devicePixelRatio || 1;
  const along = film.to - film.from, across = 2 * film.rim;
  const room = canvas.clientWidth;
  const foot = 26;
  let scale = film.down ? Math.min(room / across, 480 / along) : room / along;
  const height = film.down ? scale * along : Math.min(Math.max(scale * across, 70), 420);
  scale = film.down ? scale : Math.min(scale, height / across);
  const size = [Math.round(room * ratio), Math.round((height + foot) * ratio)];
  if (canvas.width !== size[0] || canvas.height !== size[1]) {
    [canvas.width, canvas.height] = size;
    canvas.style.height = height + foot + "px";
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.fillStyle = colour("--sheet");
  pen.fillRect(0, 0, room, height + foot);
  const left = film.down ? 0 : 0.5 * (room - scale * along);
  const at = film.down
    ? (z, r) => [0.5 * room + scale * r, scale * (z - film.from)]
    : (z, r) => [left + scale * (z - film.from), 0.5 * height - scale * r];
  const path = (points) => {
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
  };
  pen.save();
  pen.beginPath();
  if (film.down) pen.rect(0.5 * room - scale * film.rim, 0, scale * across, height);
  else pen.rect(left, 0, scale * along, height);
  pen.clip();
  pen.lineWidth = 1;
  if (film.tip !== null) {
    pen.fillStyle = colour("--oil");
    path([at(film.from, film.tip), at(0.03 * film.tip, film.tip), at(0.03 * film.tip, -film.tip), at(film.from, -film.tip)]);
    pen.fill();
  }
  for (const side of film.glass) for (const sign of [1, -1]) {
    path(side.map(([z, r]) => at(z, sign * r)));
    pen.fillStyle = colour("--glass");
    pen.fill();
    pen.strokeStyle = colour("--edge");
    pen.stroke();
  }
  pen.fillStyle = colour("--oil");
  pen.strokeStyle = colour("--ink");
  pen.lineWidth = 1.1;
  const bodies = film.snapshot(index);
  for (const { z, h } of bodies) drawBody(pen, z, h, at);
  pen.restore();
  const bar = niceBelow(0.25 * (film.down ? Math.min(across, room / scale) : along));
  const bx = film.down ? Math.max(4, 0.5 * room - scale * film.rim) : left;
  pen.fillStyle = colour("--ink");
  pen.fillRect(bx, height + 8, scale * bar, 3);
  pen.font = "13px 'Slenderjet Sans', Arial, sans-serif";
  pen.textBaseline = "middle";
  pen.fillText(siText(bar, "m"), bx + scale * bar + 8, height + 10);
  canvas.dataset.frame = index;
  canvas.dataset.time = film.times[index];
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
