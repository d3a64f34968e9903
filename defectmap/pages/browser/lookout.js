// What a live picture shows of lamp and panel, held against the photograph before. Pure: arrays in, facts out.
// Places are shares of the picture's width from its middle, x right and y down; sizes are shares of its width.

const WIDE = 160;          // px: the small picture that the lamp is looked for in
const FINE = 80;           // px: the smaller one that is laid on the photograph before
const POINTS = 500;        // of structure that are laid on each other
const LEAST_PEAK = 170;    // of 255: below, no lamp is mirrored
const CORE_SHARE = 0.9;    // of the brightest: the lamp's core
const CLIPPED = 250;       // of 255
const REACH = 12;          // px of FINE: how far apart the two may lie
const ZOOMS = [0.8, 0.87, 0.93, 1, 1.07, 1.15, 1.25];
const TURNS_DEG = [-6, 0, 6];
const LEAST_LIKENESS = 0.35, LEAST_DISTINCT = 6;  // of the best fit, and over the scatter of all that were tried

function greyOf(rgba) {
  const grey = new Float32Array(rgba.length / 4);
  for (let i = 0; i < grey.length; i++) {
    grey[i] = 0.2126 * rgba[4 * i] + 0.7152 * rgba[4 * i + 1] + 0.0722 * rgba[4 * i + 2];
  }
  return grey;
}

function lampIn(grey, width) {
  const height = grey.length / width;
  let peak = 0;
  for (const value of grey) if (value > peak) peak = value;
  if (peak < LEAST_PEAK) return null;
  const least = CORE_SHARE * peak, seen = new Uint8Array(grey.length);
  let best = null;
  for (let start = 0; start < grey.length; start++) {
    if (seen[start] || grey[start] < least) continue;
    const stack = [start];
    let area = 0, sumX = 0, sumY = 0;
    seen[start] = 1;
    while (stack.length) {
      const at = stack.pop(), x = at % width, y = (at - x) / width;
      area++; sumX += x; sumY += y;
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        const nx = x + dx, ny = y + dy, next = ny * width + nx;
        if (nx < 0 || ny < 0 || nx >= width || ny >= height || seen[next] || grey[next] < least) continue;
        seen[next] = 1;
        stack.push(next);
      }
    }
    if (!best || area > best.area) best = { area, x: sumX / area, y: sumY / area };
  }
  return {
    x: (best.x - (width - 1) / 2) / width,
    y: (best.y - (height - 1) / 2) / width,
    radius: Math.sqrt(best.area / Math.PI) / width,
  };
}

function clippedShare(grey) {
  let number = 0;
  for (const value of grey) if (value >= CLIPPED) number++;
  return number / grey.length;
}

function halved(grey, width) {
  const height = Math.floor(grey.length / width / 2), half = width / 2, out = new Float32Array(half * height);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < half; x++) {
      const at = 2 * y * width + 2 * x;
      out[y * half + x] = (grey[at] + grey[at + 1] + grey[at + width] + grey[at + width + 1]) / 4;
    }
  }
  return out;
}

function boxed(values, width, reach) {
  const height = values.length / width;
  const pass = (from, count, length, step, stride) => {
    const to = new Float32Array(from.length);
    for (let line = 0; line < count; line++) {
      for (let i = 0; i < length; i++) {
        let sum = 0, number = 0;
        for (let j = Math.max(0, i - reach); j <= Math.min(length - 1, i + reach); j++) {
          sum += from[line * stride + j * step];
          number++;
        }
        to[line * stride + i * step] = sum / number;
      }
    }
    return to;
  };
  return pass(pass(values, height, width, 1, width), width, height, width, 1);
}

// Edges, gaps, tape, the card: what stays where it is when the light changes. The lamp itself is left out.
function structureOf(grey, width, lamp) {
  const rough = boxed(grey, width, 4), detail = grey.map((value, i) => value - rough[i]);
  const size = boxed(detail.map(Math.abs), width, 8), height = grey.length / width;
  return detail.map((value, i) => {
    if (lamp) {
      const x = (i % width - (width - 1) / 2) / width - lamp.x;
      const y = (Math.floor(i / width) - (height - 1) / 2) / width - lamp.y;
      if (Math.hypot(x, y) < 2.5 * lamp.radius + 0.04) return 0;
    }
    return Math.max(-3, Math.min(3, value / (size[i] + 2)));
  });
}

function strongest(structure, width) {
  const height = structure.length / width;
  const order = [...structure.keys()].sort((a, b) => Math.abs(structure[b]) - Math.abs(structure[a]));
  return order.slice(0, POINTS).filter((i) => structure[i] !== 0).map((i) => ({
    x: i % width - (width - 1) / 2, y: Math.floor(i / width) - (height - 1) / 2, value: structure[i],
  }));
}

// With a margin of nothing round it, so that no shift runs out of the picture.
function padded(structure, width) {
  const height = structure.length / width, margin = Math.ceil(width / 4) + REACH, wide = width + 2 * margin;
  const out = new Float32Array(wide * (height + 2 * margin));
  for (let y = 0; y < height; y++) {
    out.set(structure.subarray(y * width, (y + 1) * width), (y + margin) * wide + margin);
  }
  return { out, wide, margin };
}

// The shift, zoom and turn at which the photograph before lies on the live picture; null where nothing tells.
function laidOn(points, structure, width) {
  if (points.length < POINTS / 5) return null;
  const height = structure.length / width, { out, wide, margin } = padded(structure, width);
  const values = Float32Array.from(points, (p) => p.value), places = new Int32Array(points.length);
  const other = values.reduce((sum, value) => sum + value * value, 0);
  let best = null, sum = 0, squares = 0, tried = 0;
  for (const turn of TURNS_DEG) {
    const cos = Math.cos(turn * Math.PI / 180), sin = Math.sin(turn * Math.PI / 180);
    for (const zoom of ZOOMS) {
      points.forEach((p, i) => {
        const x = Math.round(zoom * (cos * p.x - sin * p.y) + (width - 1) / 2);
        const y = Math.round(zoom * (sin * p.x + cos * p.y) + (height - 1) / 2);
        places[i] = (y + margin) * wide + x + margin;
      });
      for (let dy = -REACH; dy <= REACH; dy++) {
        for (let dx = -REACH; dx <= REACH; dx++) {
          const shift = dy * wide + dx;
          let both = 0, one = 0;
          for (let i = 0; i < places.length; i++) {
            const there = out[places[i] + shift];
            both += there * values[i];
            one += there * there;
          }
          const likeness = one > 0 ? both / Math.sqrt(one * other) : 0;
          sum += likeness;
          squares += likeness * likeness;
          tried++;
          if (!best || likeness > best.likeness) {
            best = { likeness, zoom, turn, x: dx / width, y: dy / width };
          }
        }
      }
    }
  }
  const mean = sum / tried, scatter = Math.sqrt(Math.max(0, squares / tried - mean * mean));
  const distinct = scatter > 0 ? (best.likeness - mean) / scatter : 0;
  return best.likeness >= LEAST_LIKENESS && distinct >= LEAST_DISTINCT ? best : null;
}

// Everything of one small picture, WIDE px wide.
function seenIn(grey) {
  const lamp = lampIn(grey, WIDE), small = halved(grey, WIDE);
  return { lamp, clipped: clippedShare(grey), structure: structureOf(small, FINE, lamp), grey };
}

function moved(now, then) {
  if (!then) return 0;
  const apart = now.lamp && then.lamp ? Math.hypot(now.lamp.x - then.lamp.x, now.lamp.y - then.lamp.y) : 0;
  return apart;
}

function side(x, y, what) {
  return Math.abs(x) >= Math.abs(y) ? `${what}_${x > 0 ? "right" : "left"}` : `${what}_${y > 0 ? "down" : "up"}`;
}

// One code for what to do first, or "ready". `before` is what `seenIn` found in the photograph before.
function adviceFor(now, then, before, limits) {
  if (!now.lamp) return { code: "no_lamp" };
  if (now.clipped > limits.clipped) return { code: "too_bright" };
  if (moved(now, then) > limits.motion) return { code: "hold_still" };
  if (!before || !before.lamp) return alone(now.lamp, limits);
  const fit = laidOn(before.points, now.structure, FINE);
  return { ...against(now.lamp, before.lamp, fit, limits), fit };
}

function alone(lamp, limits) {
  if (lamp.radius > limits.largest) return { code: "lamp_farther" };
  if (lamp.radius < limits.smallest) return { code: "nearer" };
  // The reflection lies to the right: the lamp goes left.
  if (Math.hypot(lamp.x, lamp.y) > limits.off_centre) return { code: side(-lamp.x, -lamp.y, "lamp") };
  return { code: "ready" };
}

function against(lamp, before, fit, limits) {
  if (fit) {
    if (fit.zoom > limits.zoom) return { code: "farther" };
    if (fit.zoom < 1 / limits.zoom) return { code: "nearer" };
    if (fit.turn !== 0) return { code: fit.turn > 0 ? "turn_right" : "turn_left" };
    if (Math.hypot(fit.x, fit.y) > limits.place) {
      // All of it has shifted, the lamp too: the phone looks elsewhere. The panel alone: it stands elsewhere.
      const apart = Math.hypot(lamp.x - before.x - fit.x, lamp.y - before.y - fit.y);
      return { code: side(fit.x, fit.y, apart < limits.place ? "tilt" : "phone") };
    }
  }
  const x = lamp.x - before.x, y = lamp.y - before.y, size = lamp.radius / before.radius;
  if (Math.hypot(x, y) > limits.place) return { code: side(-x, -y, "lamp") };
  if (size > limits.size) return { code: fit ? "lamp_farther" : "farther" };
  if (size < 1 / limits.size) return { code: fit ? "lamp_nearer" : "nearer" };
  return { code: "ready" };
}
