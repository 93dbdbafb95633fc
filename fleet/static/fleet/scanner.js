/* Reads labels with the camera where the browser has a reader of its own: scanner(button, video, { read, say }) shows the button, and
 * tells each label once while it stays in view. Where there is none, the button stays hidden and numbers are typed.
 */
"use strict";
window.scanner = (button, video, { read, say }) => {
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  button.hidden = false;
  let stream = null, last = "";
  const stop = () => { stream.getTracks().forEach((track) => track.stop()); stream = null; video.hidden = true; button.textContent = _s("Scan with the camera"); };
  button.addEventListener("click", async () => {
    if (stream) { stop(); return; }
    try { stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }); } catch { say(_s("The camera cannot be used here. Type the number instead.")); return; }
    video.srcObject = stream;
    video.hidden = false;
    button.textContent = _s("Stop the camera");
    await video.play();
    const eye = new window.BarcodeDetector({ formats: ["qr_code"] });
    const look = async () => {
      if (!stream) return;
      if (!video.isConnected) { stop(); return; }
      const [code] = await eye.detect(video).catch(() => []);
      if (code && code.rawValue !== last) { last = code.rawValue; read(last); }
      setTimeout(look, 250);
    };
    look();
  });
};
