// The picture in the light box: an SVG whose viewBox is what is seen, so that zoom and pan never touch the file.

const MOST = 12;

export function startPicture(review, keep) {
  const box = review.querySelector(".lightbox");
  const svg = review.querySelector(".picture");
  const form = review.querySelector(".looking");
  const width = Number(svg.dataset.width);
  const height = Number(svg.dataset.height);
  const field = (name) => form.elements.namedItem(name);
  const view = {
    low: Number(field("window_low").value),
    high: Number(field("window_high").value),
    turns: Number(field("quarter_turns").value),
    mirrored: field("mirrored").checked,
    inverted: field("inverted").checked,
  };
  let zoomed = 1;
  let centre = [0.5, 0.5];

  form.querySelector(".looking-buttons").hidden = false;
  form.querySelector(".looking-plain").hidden = true;

  const shown = () => (view.turns % 2 ? [height, width] : [width, height]);

  function look() {
    const [w, h] = shown();
    centre = centre.map((part) => Math.min(1, Math.max(0, part)));
    const [vw, vh] = [w / zoomed, h / zoomed];
    svg.setAttribute("viewBox", `${centre[0] * w - vw / 2} ${centre[1] * h - vh / 2} ${vw} ${vh}`);
  }

  function draw() {
    const turned = ["", `translate(${height} 0) rotate(90)`, `translate(${width} ${height}) rotate(180)`, `translate(0 ${width}) rotate(270)`];
    const mirror = view.mirrored ? ` translate(${width} 0) scale(-1 1)` : "";
    svg.querySelector(".turned").setAttribute("transform", turned[view.turns] + mirror);
    let slope = 100 / (view.high - view.low);
    let intercept = -view.low / (view.high - view.low);
    if (view.inverted) [slope, intercept] = [-slope, 1 - intercept];
    for (const part of svg.querySelectorAll("filter feFuncR, filter feFuncG, filter feFuncB")) {
      part.setAttribute("slope", slope);
      part.setAttribute("intercept", intercept);
    }
    form.querySelector("[data-do=mirror]").setAttribute("aria-pressed", String(view.mirrored));
    form.querySelector("[data-do=invert]").setAttribute("aria-pressed", String(view.inverted));
    look();
  }

  function change(part) {
    Object.assign(view, part);
    draw();
    keep(view);
  }

  const picture = {
    zoom(by) {
      zoomed = Math.min(MOST, Math.max(1, zoomed * by));
      if (zoomed === 1) centre = [0.5, 0.5];
      look();
    },
    // In shares of what is seen.
    move(right, down) {
      centre = [centre[0] - right / zoomed, centre[1] - down / zoomed];
      if (zoomed === 1) centre = [0.5, 0.5];
      look();
    },
    turn: () => change({ turns: (view.turns + 1) % 4 }),
    mirror: () => change({ mirrored: !view.mirrored }),
    invert: () => change({ inverted: !view.inverted }),
    reset() {
      [zoomed, centre] = [1, [0.5, 0.5]];
      field("window_low").value = 0;
      field("window_high").value = 100;
      change({ low: 0, high: 100, turns: 0, mirrored: false, inverted: false });
    },
  };

  const deeds = { "zoom-in": () => picture.zoom(1.5), "zoom-out": () => picture.zoom(1 / 1.5) };
  form.addEventListener("click", (event) => {
    const wanted = event.target.closest("[data-do]")?.dataset.do;
    if (wanted) (deeds[wanted] ?? picture[wanted])();
  });
  form.addEventListener("input", (event) => {
    if (event.target.type !== "range") return;
    // The two ends keep a distance, so that the window never closes.
    const low = Math.min(Number(field("window_low").value), 95);
    const high = Math.max(Number(field("window_high").value), low + 5);
    field("window_high").value = high;
    change({ low, high });
  });

  // One finger or the mouse moves, two fingers zoom, the wheel zooms while the picture has the focus.
  const fingers = new Map();
  let apart = 0;
  box.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event);
    box.setPointerCapture(event.pointerId);
    apart = 0;
  });
  box.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    fingers.set(event.pointerId, event);
    if (fingers.size === 1) {
      const { width: w, height: h } = box.getBoundingClientRect();
      picture.move((event.clientX - before.clientX) / w, (event.clientY - before.clientY) / h);
      return;
    }
    const [one, two] = [...fingers.values()];
    const now = Math.hypot(one.clientX - two.clientX, one.clientY - two.clientY);
    if (apart) picture.zoom(now / apart);
    apart = now;
  });
  for (const kind of ["pointerup", "pointercancel"]) {
    box.addEventListener(kind, (event) => fingers.delete(event.pointerId));
  }
  box.addEventListener(
    "wheel",
    (event) => {
      if (document.activeElement !== box) return;
      event.preventDefault();
      picture.zoom(event.deltaY < 0 ? 1.15 : 1 / 1.15);
    },
    { passive: false },
  );
  draw();
  return picture;
}
