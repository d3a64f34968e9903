// Words of a page that stand out too little from what is under them (WCAG 2.2, 1.4.3), each with its ratio.
// Colours, opacities and grounds are followed through the shadow roots of components; words in drawings are not.
(strict) => {
  const seen = [];
  const parts = (css) => (css.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
  const over = (top, under) => {
    const a = top.length > 3 ? top[3] : 1;
    return [0, 1, 2].map((i) => top[i] * a + under[i] * (1 - a));
  };
  const light = (rgb) => {
    const [r, g, b] = rgb.map((c) => c / 255).map((c) => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const up = (one) => one.parentElement || (one.getRootNode() instanceof ShadowRoot ? one.getRootNode().host : null);
  const ground = (one) => {
    const layers = [];
    for (let at = one; at; at = up(at)) {
      const colour = parts(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] > 0) layers.push(colour);
      if (colour.length === 3) break;
    }
    return layers.reverse().reduce((under, top) => over(top, under), [255, 255, 255]);
  };
  const look = (root) => {
    for (const one of root.querySelectorAll("*")) {
      if (one.shadowRoot) look(one.shadowRoot);
      const own = [...one.childNodes].filter((n) => n.nodeType === 3 && /[a-zA-Z0-9]/.test(n.textContent));
      if (!own.length || one.closest("svg, [disabled], style, script, [aria-disabled=true]") || !one.checkVisibility()) continue;
      if (one.tagName === "OPTION" || one.dataset.testid === "stIconMaterial") continue;
      let through = 1;
      for (let at = one; at; at = up(at)) through *= Number(getComputedStyle(at).opacity);
      const style = getComputedStyle(one), under = ground(one), ink = parts(style.color);
      const shown = over([ink[0], ink[1], ink[2], (ink.length > 3 ? ink[3] : 1) * through], under);
      const [high, low] = [light(shown), light(under)].sort((a, b) => b - a), ratio = (high + 0.05) / (low + 0.05);
      const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
      if (ratio < strict * (large ? 3 : 4.5)) seen.push([one.tagName, own[0].textContent.trim().slice(0, 40), Math.round(ratio * 100) / 100]);
    }
  };
  look(document.querySelector("[data-testid=stMain]"));
  return seen;
}
