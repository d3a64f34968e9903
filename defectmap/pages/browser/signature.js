// A name written with a finger: kept as a picture on white, so that it prints as it was seen.

const WIDE = 900, HIGH = 300, INK = "#10203a", THICK = 5;
const LEAST_PX = 40;  // of line: less is a slip of the finger
const SHEETS = new WeakMap();

export default function (component) {
  const { data, parentElement } = component;
  let sheet = SHEETS.get(parentElement);
  if (!sheet) {
    sheet = opened(parentElement);
    SHEETS.set(parentElement, sheet);
  }
  sheet.send = component.setTriggerValue;
  sheet.tell(data);
}

function opened(place) {
  const canvas = place.querySelector("canvas"), pen = canvas.getContext("2d");
  const clear = place.querySelector(".clear"), keep = place.querySelector(".keep");
  const sheet = { done: null };
  let last = null, drawn = 0;
  canvas.width = WIDE;
  canvas.height = HIGH;
  const wipe = () => {
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, WIDE, HIGH);
    drawn = 0;
    show();
  };
  const show = () => { keep.disabled = drawn < LEAST_PX; clear.disabled = drawn === 0; };
  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width * WIDE, (event.clientY - box.top) / box.height * HIGH];
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    last = at(event);
    event.preventDefault();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!last) return;
    const now = at(event);
    pen.strokeStyle = INK;
    pen.lineWidth = THICK;
    pen.lineCap = "round";
    pen.beginPath();
    pen.moveTo(...last);
    pen.lineTo(...now);
    pen.stroke();
    drawn += Math.hypot(now[0] - last[0], now[1] - last[1]);
    last = now;
    show();
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => { last = null; });
  clear.addEventListener("click", wipe);
  keep.addEventListener("click", () => sheet.send("signed", { png: canvas.toDataURL("image/png").split(",")[1] }));
  sheet.tell = (data) => {
    canvas.setAttribute("aria-label", data.label);
    clear.textContent = data.clear;
    keep.textContent = data.keep;
    if (sheet.done !== data.done) { sheet.done = data.done; wipe(); }
  };
  return sheet;
}
