// Words and pictures come in as data and are set as properties: nothing of them is ever read as HTML.
export default function (component) {
  const { data, parentElement } = component;
  const find = (what) => parentElement.querySelector(what);
  const [before, after, bar, input] = [find("img.before"), find("img.after"), find(".bar"), find("input")];
  before.src = data.before;
  after.src = data.after;
  before.alt = data.words;
  after.alt = "";
  const move = () => {
    before.style.clipPath = `inset(0 ${100 - input.value}% 0 0)`;
    bar.style.left = `${input.value}%`;
  };
  input.addEventListener("input", move);
  // The picture itself is the handle too: a finger wipes from before to after.
  const frame = find(".frame");
  const wipe = (event) => {
    if (event.type === "pointermove" && !event.buttons) return;
    const at = frame.getBoundingClientRect();
    input.value = Math.round(100 * (event.clientX - at.left) / at.width);
    move();
  };
  frame.addEventListener("pointerdown", wipe);
  frame.addEventListener("pointermove", wipe);
  move();
  return () => {
    input.removeEventListener("input", move);
    frame.removeEventListener("pointerdown", wipe);
    frame.removeEventListener("pointermove", wipe);
  };
}
