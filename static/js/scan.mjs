// Scanning the tag code of a place with the phone's camera, where the browser can read codes itself. Where it cannot, the
// button stays hidden and the code is typed. Nothing leaves the phone but the code.

const EVERY = 250; // ms between two looks at the picture

function begin(box) {
  const part = (name) => box.querySelector(`[data-here-${name}]`);
  const [button, camera, said] = [part("scan"), part("camera"), part("said")];
  const video = camera.querySelector("video");
  const field = box.querySelector("[name=here-code]");
  let stream = null;

  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = video.srcObject = null;
    camera.hidden = true;
    button.hidden = false;
  };

  const look = async (detector) => {
    while (stream) {
      const found = await detector.detect(video).catch(() => []);
      const code = found.map(({ rawValue }) => rawValue.trim()).find(Boolean);
      if (code && stream) {
        stop();
        field.value = code;
        part("how").value = "scanned";
        part("note").form.requestSubmit(part("note"));
        return;
      }
      await new Promise((done) => setTimeout(done, EVERY));
    }
  };

  button.addEventListener("click", async () => {
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      camera.hidden = false;
      button.hidden = true;
      said.textContent = said.dataset.wordsLooking;
      await video.play();
      await look(new BarcodeDetector());
    } catch {
      stop();
      said.textContent = said.dataset.wordsRefused;
    }
  });
  part("stop").addEventListener("click", stop);
  window.addEventListener("pagehide", stop);
  // Who types over what was scanned has typed it.
  field.addEventListener("input", () => (part("how").value = "typed"));
  button.hidden = false;
}

if ("BarcodeDetector" in globalThis && navigator.mediaDevices?.getUserMedia)
  for (const box of document.querySelectorAll("[data-here]")) begin(box);
