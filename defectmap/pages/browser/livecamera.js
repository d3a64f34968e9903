// The live camera: draws, listens and hands over. What is seen is worked out in lookout.js, films are recorded in
// sweep.js; both stand above.
// Words come in as data and are set as text: nothing of them is ever read as HTML.

const EVERY_MS = 100;       // ten looks a second
const STEADY = 2;           // looks that agree before the word changes
const SHARPEST_OF = 6;      // frames, where the browser gives no full photograph
const KEPT = new WeakMap(); // one camera for each place in the page: it goes on while the page is drawn anew

export default function (component) {
  const { data, parentElement } = component;
  let camera = KEPT.get(parentElement);
  if (!camera) {
    camera = opened(parentElement);
    KEPT.set(parentElement, camera);
  }
  clearTimeout(camera.leaving);
  camera.send = component.setTriggerValue;
  camera.tell(data);
  return () => { camera.leaving = setTimeout(() => { camera.close(); KEPT.delete(parentElement); }, 400); };
}

function opened(place) {
  const find = (what) => place.querySelector(what);
  const look = find(".look"), video = find("video"), ghost = find(".ghost"), say = find(".say");
  const shutter = find(".shutter"), seen = find(".seen"), file = find(".file"), note = find(".note");
  const filmer = find(".film"), trail = trailOn(find(".trail")), kind = filmKind();
  const small = document.createElement("canvas"), camera = { data: null, before: null };
  let sweep = null, stream = null, timer = null, then = null, code = "", asked = "", steady = 0, looks = 0, shownFor = null;

  const greyOfPicture = (picture, width, height) => {
    small.width = WIDE;
    small.height = 2 * Math.round(WIDE * height / width / 2);
    const pen = small.getContext("2d", { willReadFrequently: true });
    pen.drawImage(picture, 0, 0, small.width, small.height);
    return greyOf(pen.getImageData(0, 0, small.width, small.height).data);
  };
  const learnBefore = () => {
    camera.before = null;
    if (!ghost.naturalWidth || !ghost.getAttribute("src")) return;
    const before = seenIn(greyOfPicture(ghost, ghost.naturalWidth, ghost.naturalHeight));
    camera.before = { ...before, points: strongest(before.structure, FINE),
      wide: ghost.naturalWidth >= ghost.naturalHeight };
  };
  const show = (next) => {
    steady = next === asked ? steady + 1 : 1;
    asked = next;
    if (steady < STEADY || next === code) return;
    code = next;
    look.dataset.code = code;
    say.textContent = camera.data.words[code];
    shutter.classList.toggle("ready", code === "ready");
    shutter.textContent = code === "ready" ? camera.data.take : camera.data.take_anyway;
  };
  const lookOnce = () => {
    if (!video.videoWidth || video.readyState < 2 || document.hidden) return;
    const started = performance.now();
    const now = seenIn(greyOfPicture(video, video.videoWidth, video.videoHeight));
    if (sweep) {
      trail.add(now.lamp);
      return;
    }
    const turned = camera.before && camera.before.wide !== (video.videoWidth >= video.videoHeight);
    const found = turned ? { code: "as_before" } : adviceFor(now, then, camera.before, camera.data.limits);
    then = now;
    show(found.code);
    look.dataset.looks = ++looks;
    look.dataset.ms = (performance.now() - started).toFixed(1);
    look.dataset.fit = found.fit ? `${found.fit.zoom} ${found.fit.turn} ${found.fit.x} ${found.fit.y}` : "";
  };
  const start = async () => {
    if (!navigator.mediaDevices || !navigator.mediaDevices.getUserMedia) throw new Error("insecure");
    const wide = "ImageCapture" in window ? 1920 : 4096;
    stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: {
      facingMode: { ideal: "environment" }, width: { ideal: wide }, height: { ideal: Math.round(wide * 3 / 4) } } });
    video.srcObject = stream;
    await video.play();
    timer = setInterval(lookOnce, EVERY_MS);
    filmer.hidden = !kind;
  };
  const without = (error) => {
    look.hidden = true;
    find(".row").hidden = true;
    find(".row").style.display = "none";
    const words = camera.data.without;
    note.textContent = error.message === "insecure" ? words.insecure
      : error.name === "NotAllowedError" ? words.refused : words.none;
  };

  const jpegOf = (canvas) => new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.95));
  const crispness = () => {
    const pen = small.getContext("2d", { willReadFrequently: true });
    pen.drawImage(video, 0, 0, small.width, small.height);
    const grey = greyOf(pen.getImageData(0, 0, small.width, small.height).data);
    let sum = 0;
    for (let i = 1; i < grey.length; i++) sum += (grey[i] - grey[i - 1]) ** 2;
    return sum;
  };
  const bestFrame = async () => {
    let best = null;
    for (let number = 0; number < SHARPEST_OF; number++) {
      const crisp = crispness();
      if (!best || crisp > best.crisp) {
        const frame = document.createElement("canvas");
        frame.width = video.videoWidth;
        frame.height = video.videoHeight;
        frame.getContext("2d").drawImage(video, 0, 0);
        best = { crisp, frame };
      }
      await new Promise((done) => setTimeout(done, 60));
    }
    return { blob: await jpegOf(best.frame), way: "frame" };
  };
  const photograph = async () => {
    const track = stream && stream.getVideoTracks()[0];
    if ("ImageCapture" in window && track) {
      try {
        const blob = await new ImageCapture(track).takePhoto();
        if (blob && blob.size) return { blob, way: "still" };
      } catch { /* not every camera gives a still: then the best frame */ }
    }
    return bestFrame();
  };
  const busy = (is, words) => {
    shutter.disabled = is;
    find(".own").classList.toggle("busy", is);
    note.textContent = words;
  };
  const handOver = async (blob, name, way) => {
    if (blob.size > camera.data.most_bytes) { busy(false, camera.data.too_large); return; }
    busy(true, camera.data.sending);
    const reader = new FileReader();
    reader.onerror = () => busy(false, camera.data.unreadable);
    reader.onload = () => {
      const number = `${Date.now()}`;
      camera.send("shot", { name, way, number, aim: camera.data.aim,
        content: String(reader.result).split(",")[1] || "" });
      busy(false, "");
    };
    reader.readAsDataURL(blob);
  };
  const press = async () => {
    busy(true, camera.data.holding);
    try {
      const { blob, way } = await photograph();
      const ending = blob.type.includes("png") ? "png" : "jpg";
      await handOver(blob, `camera-${new Date().toISOString().slice(0, 19).replace(/[:T]/g, "-")}.${ending}`, way);
    } catch { busy(false, camera.data.unreadable); }
  };
  const film = async () => {
    if (sweep) { sweep.stop(); return; }
    const { film_words: words, film_s: longest_s, film_bits: bits } = camera.data;
    shutter.disabled = true;
    ghost.hidden = true;
    filmer.classList.add("going");
    say.textContent = words.doing;
    trail.begin(video.videoWidth, video.videoHeight);
    const tell = (left) => { filmer.textContent = `${words.stop} (${left} s)`; };
    try {
      sweep = recorded(stream, { kind, bits, longest_s, tell });
      const blob = await sweep.film;
      const ending = blob.type.includes("mp4") ? "mp4" : "webm";
      await handOver(blob, `film-${new Date().toISOString().slice(0, 19).replace(/[:T]/g, "-")}.${ending}`, "film");
    } catch { busy(false, camera.data.unreadable); }
    sweep = null;
    code = "";
    trail.end();
    ghostly();
    shutter.disabled = false;
    filmer.classList.remove("going");
    filmer.textContent = words.start;
  };
  const given = () => {
    const one = file.files[0];
    file.value = "";
    if (one) handOver(one, one.name, "app");
  };
  const ghostly = () => { ghost.hidden = !seen.checked || !ghost.getAttribute("src"); };
  shutter.addEventListener("click", press);
  filmer.addEventListener("click", film);
  file.addEventListener("change", given);
  seen.addEventListener("change", ghostly);
  ghost.addEventListener("load", learnBefore);

  camera.tell = (next) => {
    camera.data = next;
    shutter.textContent = code === "ready" ? next.take : next.take_anyway;
    if (!sweep) filmer.textContent = next.film_words.start;
    find(".switch span").textContent = next.ghost_words;
    find(".own span").textContent = next.own;
    find(".switch").style.display = next.before ? "" : "none";
    if (shownFor !== next.before) {
      shownFor = next.before;
      camera.before = null;
      if (next.before) ghost.src = next.before;
      else ghost.removeAttribute("src");
    }
    ghostly();
    if (next.said) note.textContent = next.said;
  };
  camera.close = () => {
    clearInterval(timer);
    if (sweep) sweep.stop();
    if (stream) for (const track of stream.getTracks()) track.stop();
  };
  start().catch((error) => without(error));
  return camera;
}
