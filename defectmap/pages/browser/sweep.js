// A film of the sweep, recorded where the browser can (W3C MediaStream Recording), and where the lamp has been.

const FILM_KINDS = ["video/mp4;codecs=avc1.640028", "video/mp4;codecs=avc1.42E01F", "video/mp4",
  "video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"];
const SHOWN_RADII = 3;  // about the reflection, in its radii: how far marks light up

// The first kind of film that this browser records; undefined where it records none.
function filmKind() {
  return "MediaRecorder" in window ? FILM_KINDS.find((kind) => MediaRecorder.isTypeSupported(kind)) : undefined;
}

// Records until it is stopped or has gone on for the longest time; tells the seconds meanwhile.
function recorded(stream, { kind, bits, longest_s, tell }) {
  const parts = [], recorder = new MediaRecorder(stream, { mimeType: kind, videoBitsPerSecond: bits });
  let seconds = 0, timer = null;
  const stop = () => { if (recorder.state !== "inactive") recorder.stop(); };
  const film = new Promise((done, failed) => {
    recorder.ondataavailable = (event) => { if (event.data.size) parts.push(event.data); };
    recorder.onerror = (event) => { clearInterval(timer); failed(event.error || new Error("film")); };
    recorder.onstop = () => { clearInterval(timer); done(new Blob(parts, { type: kind.split(";")[0] })); };
  });
  recorder.start();
  tell(longest_s);
  timer = setInterval(() => {
    seconds++;
    tell(longest_s - seconds);
    if (seconds >= longest_s) stop();
  }, 1000);
  return { stop, film };
}

// The places that the lamp has lit so far, drawn over the live picture: what stays dark was not swept.
function trailOn(canvas) {
  const pen = canvas.getContext("2d");
  return {
    begin(width, height) {
      canvas.width = WIDE;
      canvas.height = Math.round(WIDE * height / width);
      canvas.hidden = false;
      pen.fillStyle = "rgba(0, 0, 0, 0.55)";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.globalCompositeOperation = "destination-out";
    },
    add(lamp) {
      if (!lamp) return;
      pen.fillStyle = "rgba(0, 0, 0, 0.35)";
      pen.beginPath();
      pen.arc(WIDE * lamp.x + canvas.width / 2, WIDE * lamp.y + canvas.height / 2,
        SHOWN_RADII * lamp.radius * WIDE, 0, 2 * Math.PI);
      pen.fill();
    },
    end() {
      pen.globalCompositeOperation = "source-over";
      canvas.hidden = true;
    },
  };
}
