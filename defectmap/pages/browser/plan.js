// The vehicle's plan: each panel is a button. The drawing comes as XML that holds nothing but shapes and words.

const PLANS = new WeakMap();

export default function (component) {
  const { data, parentElement } = component;
  let plan = PLANS.get(parentElement);
  if (!plan) {
    plan = { drawn: "", chosen: [] };
    PLANS.set(parentElement, plan);
  }
  const place = parentElement.querySelector(".plan");
  // Where on the plan, in shares of its width both ways: of the finger, or of the panel's middle for a key.
  const placed = (one, event) => {
    const all = place.firstChild.getBoundingClientRect(), own = one.getBoundingClientRect();
    const finger = event.type === "click" && event.detail > 0;
    const x = finger ? event.clientX : own.left + own.width / 2, y = finger ? event.clientY : own.top + own.height / 2;
    return { x: (x - all.left) / all.width, y: (y - all.top) / all.width };
  };
  const press = (name, where) => {
    if (!data.many) {
      if (data.places) component.setTriggerValue("place", { panel: name, ...where });
      else component.setTriggerValue("panel", name);
      return;
    }
    plan.chosen = plan.chosen.includes(name) ? plan.chosen.filter((one) => one !== name) : [...plan.chosen, name];
    mark();
    component.setStateValue("panels", plan.chosen);
  };
  const mark = () => {
    const chosen = data.many ? plan.chosen : data.chosen;
    for (const one of place.querySelectorAll("[data-panel]")) {
      one.setAttribute("aria-pressed", String(chosen.includes(data.names[+one.dataset.panel])));
    }
  };
  place.classList.toggle("many", data.many);
  if (plan.drawn !== data.svg) {
    plan.drawn = data.svg;
    const parsed = new DOMParser().parseFromString(data.svg, "image/svg+xml").documentElement;
    place.replaceChildren(document.importNode(parsed, true));
    place.firstChild.setAttribute("role", "group");
    for (const one of place.querySelectorAll("[data-panel]")) {
      one.addEventListener("click", (event) => press(data.names[+one.dataset.panel], placed(one, event)));
      one.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        press(data.names[+one.dataset.panel], placed(one, event));
      });
    }
  }
  mark();
}
