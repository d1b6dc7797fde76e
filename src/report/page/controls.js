// The player: play, step, jump, speed, time line with its breakups.
function player(root) {
  const movie = readMovie(root.querySelector("script").textContent);
  const canvas = root.querySelector("canvas");
  const slider = root.querySelector(".line input");
  const speed = root.querySelector("[data-do=speed]");
  const play = root.querySelector("[data-do=play]");
  const last = movie.times.length - 1;
  const span = Math.max(movie.times[last] - movie.times[0], Number.MIN_VALUE);
  let index = 0, playing = false, clock = movie.times[0], before = null;
  canvas.movie = movie;
  const share = (t) => (t - movie.times[0]) / span * 10000;

  // Seconds of the run in one second of movie: the whole run in twelve seconds at the middle of the slider.
  const pace = () => span / 12 * Math.pow(2, Number(speed.value) / 4);
  function show(i) {
    index = Math.min(Math.max(i, 0), last);
    slider.value = share(movie.times[index]);
    const time = "t = " + siText(movie.times[index], "s");
    slider.setAttribute("aria-valuetext", time);
    root.querySelector(".time").textContent = time;
    drawMovie(canvas, movie, index);
  }
  function showPace() {
    const slower = pace() < 1 ? 1 / pace() : pace();
    const times = slower < 1.05 ? "as in life" : Number(slower.toPrecision(2)).toLocaleString("en") + " times " + (pace() < 1 ? "slower" : "faster");
    const text = "1 s of movie is " + siText(Number(pace().toPrecision(3)), "s") + " (" + times + ")";
    root.querySelector(".speed").textContent = text;
    speed.setAttribute("aria-valuetext", text);
  }
  function step(now) {
    if (!playing) return;
    if (before !== null) clock += (now - before) / 1000 * pace();
    before = now;
    let i = index;
    while (i < last && movie.times[i + 1] <= clock) i++;
    if (i !== index) show(i);
    if (index >= last) return pause();
    requestAnimationFrame(step);
  }
  function pause() {
    playing = false;
    play.textContent = "Play";
    play.setAttribute("aria-pressed", "false");
  }
  function start() {
    if (index >= last) show(0);
    playing = true;
    before = null;
    clock = movie.times[index];
    play.textContent = "Pause";
    play.setAttribute("aria-pressed", "true");
    requestAnimationFrame(step);
  }
  const jump = (i) => { pause(); show(i); };
  const firstAfter = (t) => { const i = movie.times.findIndex((x) => x >= t); return i < 0 ? last : i; };
  const deeds = {
    play: () => (playing ? pause() : start()),
    back: () => jump(index - 1),
    forward: () => jump(index + 1),
    next: () => { const b = movie.breakups.find(([t]) => firstAfter(t) > index); if (b) jump(firstAfter(b[0])); },
    previous: () => { const b = movie.breakups.filter(([t]) => firstAfter(t) < index).pop(); if (b) jump(firstAfter(b[0])); },
    faster: (by) => { speed.value = Number(speed.value) + by; showPace(); },
  };
  root.addEventListener("click", (e) => {
    const button = e.target.closest("button[data-do]");
    if (button) deeds[button.dataset.do]();
  });
  // The time line is true in time: the snapshot nearest to where it is held.
  const nearest = (t) => movie.times.reduce((best, x, i) => (Math.abs(x - t) < Math.abs(movie.times[best] - t) ? i : best), 0);
  slider.addEventListener("input", () => {
    const held = slider.value;
    pause();
    show(nearest(movie.times[0] + held / 10000 * span));
    slider.value = held;
  });
  speed.addEventListener("input", showPace);
  root.addEventListener("pointerdown", () => { active = root; });
  root.addEventListener("focusin", () => { active = root; });
  // Keys work wherever the focus is, for the movie used last or else the first one; other controls keep their own keys.
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || (active || document.querySelector(".player")) !== root) return;
    const inside = root.contains(e.target);
    if (!inside && e.target.closest("a, input, select, textarea, summary, [contenteditable], .table, pre")) return;
    const inSpeed = e.target === speed, onButton = e.target.closest("button");
    const keys = {
      " ": () => deeds.play(), ArrowRight: () => deeds.forward(), ArrowLeft: () => deeds.back(),
      Home: () => jump(0), End: () => jump(last), n: () => deeds.next(), p: () => deeds.previous(),
      "+": () => deeds.faster(1), "=": () => deeds.faster(1), "-": () => deeds.faster(-1),
    };
    const key = e.key.length === 1 ? e.key.toLowerCase() : e.key;
    if (!keys[key] || (onButton && key === " ") || (inSpeed && (key.startsWith("Arrow") || key === "Home" || key === "End"))) return;
    e.preventDefault();
    keys[key]();
  });
  const marks = root.querySelector(".breakups");
  marks.setAttribute("viewBox", "0 0 1000 14");
  for (const [t, kind] of movie.breakups) {
    const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
    const x = 0.1 * share(t);
    const top = kind === "satellite" ? 7 : 0;
    for (const [name, value] of Object.entries({ x1: x, x2: x, y1: top, y2: 14 })) line.setAttribute(name, value);
    line.setAttribute("vector-effect", "non-scaling-stroke");
    line.style.stroke = kind === "satellite" ? "var(--quiet)" : "var(--rust)";
    line.style.strokeWidth = "1.5px";
    marks.appendChild(line);
  }
  new ResizeObserver(() => drawMovie(canvas, movie, index)).observe(root);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => drawMovie(canvas, movie, index));
  if (document.fonts) document.fonts.ready.then(() => drawMovie(canvas, movie, index));
  showPace();
  // report.html#snapshot=120 opens the movies there.
  const wanted = location.hash.match(/^#snapshot=(\d{1,6})$/);
  show(wanted ? Number(wanted[1]) : movie.opening);
  // On paper the movie is a still of the break-up.
  let left = null;
  addEventListener("beforeprint", () => { pause(); left = index; show(movie.opening); });
  addEventListener("afterprint", () => { if (left !== null) show(left); });
}
let active = null;
document.querySelectorAll(".player").forEach(player);
