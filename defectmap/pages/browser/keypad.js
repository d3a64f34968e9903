// Readings of a gauge, place after place: a pad for a thumb; what is wrong is struck out where it stands.

const PADS = new WeakMap();

export default function (component) {
  const { data, parentElement } = component;
  let pad = PADS.get(parentElement);
  if (!pad) {
    pad = { place: 0, typed: "", rows: [], done: data.done };
    PADS.set(parentElement, pad);
    built(parentElement, pad);
  }
  pad.data = data;
  pad.send = component.setTriggerValue;
  if (pad.done !== data.done) { pad.done = data.done; pad.rows = []; pad.typed = ""; pad.place = 0; }
  pad.draw();
}

function built(root, pad) {
  const find = (what) => root.querySelector(what);
  const button = (words, press, label) => {
    const one = document.createElement("button");
    one.type = "button";
    one.textContent = words;
    if (label) one.setAttribute("aria-label", label);
    one.addEventListener("click", press);
    return one;
  };
  const key = (what) => {
    if (what === "back") pad.typed = pad.typed.slice(0, -1);
    else if (what === ".") { if (!pad.typed.includes(".")) pad.typed = (pad.typed || "0") + "."; }
    else if (pad.typed.length < 6) pad.typed += what;
    pad.draw();
  };
  const next = () => {
    const value = Number(pad.typed);
    if (!pad.typed || !(value > 0)) return;
    const place = pad.data.places[pad.place];
    pad.rows.push({ place, value, struck: false });
    pad.typed = "";
    const here = pad.rows.filter((row) => row.place === place && !row.struck).length;
    if (here >= pad.data.a_place && pad.place < pad.data.places.length - 1) pad.place++;  // the next place
    pad.draw();
  };
  const save = () => {
    const readings = {};
    for (const row of pad.rows) if (!row.struck) (readings[row.place] = readings[row.place] || []).push(row.value);
    if (Object.keys(readings).length) pad.send("readings", { readings, number: `${Date.now()}` });
  };
  const keys = find(".pad");
  for (const digit of "123456789") keys.append(button(digit, () => key(digit)));
  keys.append(button(".", () => key(".")), button("0", () => key("0")), button("⌫", () => key("back"), "Delete"));
  const take = button("", next);
  take.className = "next";
  keys.append(take);
  keys.addEventListener("keydown", (event) => {
    if (event.target !== keys) return;
    if (/^[0-9]$/.test(event.key)) key(event.key);
    else if (event.key === "." || event.key === ",") key(".");
    else if (event.key === "Backspace") key("back");
    else if (event.key === "Enter") next();
    else return;
    event.preventDefault();
  });
  find(".save").addEventListener("click", save);
  pad.draw = () => {
    const place = pad.data.places[pad.place];
    keys.setAttribute("aria-label", pad.data.label);
    find(".places").replaceChildren(...pad.data.places.map((name, at) => {
      const one = button(name, () => { pad.place = at; pad.draw(); });
      one.setAttribute("aria-pressed", String(at === pad.place));
      return one;
    }));
    find(".shown").textContent = `${place}: ${pad.typed || "–"} ${pad.data.unit}`;
    take.textContent = pad.data.next;
    find(".list").replaceChildren(...pad.rows.map((row) => {
      const one = button(`${row.place} ${row.value}`, () => { row.struck = !row.struck; pad.draw(); });
      one.classList.toggle("struck", row.struck);
      one.setAttribute("aria-label", `${row.place} ${row.value}, ${row.struck ? pad.data.back : pad.data.strike}`);
      return one;
    }));
    const number = pad.rows.filter((row) => !row.struck).length;
    find(".save").textContent = number ? `${pad.data.save} (${number})` : pad.data.save;
    find(".save").disabled = !number;
  };
}
