// A photograph with its marks: touch one to choose it, draw an area to leave out, pinch to come closer.
// Words come in as data and are set as text: nothing of them is ever read as HTML.

const SVG = "http://www.w3.org/2000/svg";
const NEAR_PX = 26;        // of a finger on the glass
const STILL_PX = 8;        // moved less than that, it was a tap
const CLOSEST = 12, SHARPER_FROM = 1.6;
const LEAST_BOX = 0.01;    // of the picture's width
const STEP = 0.03;         // of the view, for an arrow key
const VIEWS = new WeakMap();

export default function (component) {
  const { data, parentElement } = component;
  let view = VIEWS.get(parentElement);
  if (!view) {
    view = opened(parentElement);
    VIEWS.set(parentElement, view);
  }
  view.send = component.setTriggerValue;
  view.keep = component.setStateValue;
  view.tell(data);
}

function opened(place) {
  const find = (what) => place.querySelector(what);
  const frame = find(".view"), sheet = find(".sheet"), img = find("img"), svg = find("svg"), box = find(".box");
  const said = find(".said"), kinds = find(".kinds"), area = find(".area"), undo = find(".undo");
  const view = { data: null };
  let zoom = 1, left = 0, top = 0, chosen = null, drawing = false, drawn = null, sharper = false, photograph = "", state = "";
  const fingers = new Map();
  let begun = null;

  const width = () => frame.clientWidth, height = () => frame.clientHeight;
  const put = () => {
    zoom = Math.max(1, Math.min(CLOSEST, zoom));
    left = Math.min(0, Math.max(width() * (1 - zoom), left));
    top = Math.min(0, Math.max(height() * (1 - zoom), top));
    sheet.style.transform = `translate(${left}px, ${top}px) scale(${zoom})`;
    frame.classList.toggle("free", zoom > 1);
    find(".out").disabled = zoom <= 1;
    frame.dataset.zoom = zoom.toFixed(2);
    if (zoom >= SHARPER_FROM && !sharper) { sharper = true; view.keep("sharper", true); }
  };
  const zoomTo = (next, x = width() / 2, y = height() / 2) => {
    const before = zoom;
    zoom = Math.max(1, Math.min(CLOSEST, next));
    left = x - (x - left) * zoom / before;
    top = y - (y - top) * zoom / before;
    put();
  };
  // From the glass to the photograph's own pixels.
  const onPhoto = (event) => {
    const at = frame.getBoundingClientRect();
    const x = (event.clientX - at.left - frame.clientLeft - left) / zoom;
    const y = (event.clientY - at.top - frame.clientTop - top) / zoom;
    return [x / width() * view.data.width, y / height() * view.data.height];
  };
  const line = (points, name) => {
    const one = document.createElementNS(SVG, "polyline");
    one.setAttribute("points", points.map((p) => p.join(",")).join(" "));
    if (name) one.setAttribute("class", name);
    return one;
  };
  const away = (points, x, y) => {
    let least = Infinity;
    for (let i = 0; i < points.length; i++) {
      const [ax, ay] = points[Math.max(0, i - 1)], [bx, by] = points[i], dx = bx - ax, dy = by - ay;
      const along = dx || dy ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy))) : 0;
      least = Math.min(least, Math.hypot(x - ax - along * dx, y - ay - along * dy));
    }
    return least;
  };
  const choose = (index) => {
    chosen = index;
    frame.dataset.chosen = index === null ? "" : index;
    const mark = index === null ? null : view.data.marks[index];
    find(".chosen").replaceChildren(...(mark ? [line(mark.points, "under"), line(mark.points, "over")] : []));
    said.textContent = mark ? mark.words : view.data.hint;
    kinds.replaceChildren(...(mark ? view.data.kinds.map(([kind, words]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      if (kind === mark.kind) { button.className = "now"; button.disabled = true; }
      button.addEventListener("click", () => act({ what: "kind", mark: mark.index, kind }));
      return button;
    }) : []));
  };
  const act = (what) => {
    said.textContent = view.data.keeping;
    kinds.replaceChildren();
    view.send("act", { ...what, photograph: view.data.photograph, number: `${Date.now()}` });
  };
  const tapped = (event) => {
    const [x, y] = onPhoto(event), reach = NEAR_PX / zoom / width() * view.data.width;
    let best = null, least = reach;
    view.data.marks.forEach((mark, index) => {
      const far = away(mark.points, x, y);
      if (far < least) { least = far; best = index; }
    });
    choose(best);
  };
  const showBox = () => {
    box.style.visibility = drawn ? "visible" : "hidden";
    if (!drawn) return;
    const [x0, y0, x1, y1] = drawn;
    box.setAttribute("x", Math.min(x0, x1));
    box.setAttribute("y", Math.min(y0, y1));
    box.setAttribute("width", Math.abs(x1 - x0));
    box.setAttribute("height", Math.abs(y1 - y0));
  };
  const draw = (on) => {
    drawing = on;
    drawn = null;
    showBox();
    area.setAttribute("aria-pressed", String(on));
    frame.classList.toggle("drawing", on);
    said.textContent = on ? view.data.draw_hint : view.data.hint;
    if (on) { find(".chosen").replaceChildren(); kinds.replaceChildren(); chosen = null; frame.dataset.chosen = ""; }
  };
  const leaveOut = () => {
    const [x0, y0, x1, y1] = drawn, wide = LEAST_BOX * view.data.width;
    const found = [Math.min(x0, x1), Math.min(y0, y1), Math.max(x0, x1), Math.max(y0, y1)];
    draw(false);
    if (found[2] - found[0] > wide && found[3] - found[1] > wide) act({ what: "area", box: found });
  };
  const spread = () => {
    const [one, other] = [...fingers.values()];
    return { far: Math.hypot(one.x - other.x, one.y - other.y), x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 };
  };
  const local = (event) => {
    const at = frame.getBoundingClientRect();
    return { x: event.clientX - at.left, y: event.clientY - at.top };
  };
  frame.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, local(event));
    if (fingers.size === 1) {
      begun = { event, moved: false };
      if (drawing) { drawn = [...onPhoto(event), ...onPhoto(event)]; showBox(); }
      if (drawing || zoom > 1) frame.setPointerCapture(event.pointerId);
    } else { begun = { pinch: spread(), zoom }; drawn = null; showBox(); }
  });
  frame.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) return;
    const before = fingers.get(event.pointerId), now = local(event);
    fingers.set(event.pointerId, now);
    if (fingers.size === 2 && begun && begun.pinch) {
      const { far, x, y } = spread();
      zoomTo(begun.zoom * far / begun.pinch.far, x, y);
    } else if (begun && begun.event) {
      const still = Math.hypot(event.clientX - begun.event.clientX, event.clientY - begun.event.clientY) < STILL_PX;
      if (!still) begun.moved = true;
      if (drawing && drawn) { [drawn[2], drawn[3]] = onPhoto(event); showBox(); }
      else if (zoom > 1) { left += now.x - before.x; top += now.y - before.y; put(); }
    }
  });
  const lifted = (event) => {
    const last = fingers.size === 1;
    fingers.delete(event.pointerId);
    if (!last || !begun || !begun.event) { if (!fingers.size) begun = null; return; }
    if (event.type === "pointerup") {
      if (drawing && drawn) leaveOut();
      else if (!begun.moved) tapped(event);
    }
    begun = null;
  };
  frame.addEventListener("pointerup", lifted);
  frame.addEventListener("pointercancel", lifted);
  frame.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && zoom <= 1) return;  // the page scrolls as ever until somebody has come closer
    event.preventDefault();
    const at = local(event);
    zoomTo(zoom * Math.exp(-event.deltaY / 400), at.x, at.y);
  }, { passive: false });
  frame.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "+" || event.key === "=") zoomTo(zoom * 1.5);
    else if (event.key === "-") zoomTo(zoom / 1.5);
    else if (event.key === "Escape" && drawing) draw(false);
    else if (event.key === "Enter" && drawing && drawn) leaveOut();
    else if (way && drawing) {
      const [w, h] = [view.data.width, view.data.height], [dx, dy] = [way[0] * STEP * w, way[1] * STEP * h];
      drawn = drawn || [0.4 * w, 0.4 * h, 0.6 * w, 0.6 * h];
      if (!event.shiftKey) { drawn[0] += dx; drawn[1] += dy; }
      drawn[2] += dx;
      drawn[3] += dy;
      showBox();
    } else if (way && zoom > 1) {
      left -= way[0] * STEP * 4 * width();
      top -= way[1] * STEP * 4 * height();
      put();
    } else return;
    event.preventDefault();
  });
  find(".in").addEventListener("click", () => zoomTo(zoom * 1.5));
  find(".out").addEventListener("click", () => zoomTo(zoom / 1.5));
  find(".next").addEventListener("click", () => {
    if (!view.data.marks.length) return;
    const at = chosen === null ? 0 : (chosen + 1) % view.data.marks.length;
    choose(at);
    const middle = view.data.marks[at].points[Math.floor(view.data.marks[at].points.length / 2)];
    left = width() / 2 - middle[0] / view.data.width * width() * zoom;
    top = height() / 2 - middle[1] / view.data.height * height() * zoom;
    put();
  });
  area.addEventListener("click", () => draw(!drawing));
  undo.addEventListener("click", () => act({ what: "undo" }));
  new ResizeObserver(put).observe(frame);

  view.tell = (data) => {
    const other = photograph !== data.photograph;
    view.data = data;
    photograph = data.photograph;
    if (other) { zoom = 1; left = 0; top = 0; sharper = false; }
    img.src = data.jpeg;
    img.alt = data.alt;
    frame.setAttribute("aria-label", data.label);
    frame.style.aspectRatio = `${data.width} / ${data.height}`;
    svg.setAttribute("viewBox", `0 0 ${data.width} ${data.height}`);
    find(".faint").replaceChildren(...data.faint.map((points) => line(points)));
    find(".next").textContent = data.next_words;
    area.textContent = data.area_words;
    undo.textContent = data.undo_words;
    undo.style.display = data.can_undo ? "" : "none";
    if (state !== data.state) {
      state = data.state;
      draw(false);
      choose(null);
      if (data.said) said.textContent = data.said;
    }
    put();
  };
  return view;
}
