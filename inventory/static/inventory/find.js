// Scanning a label's code into the box in the head, where the browser can.
"use strict";
(function () {
  const EVERY_MS = 150;

  function set_up(form) {
    const scan = form.querySelector("[data-scan]");
    const dialog = form.querySelector("[data-scanner]");
    const says = dialog.querySelector("[data-scan-says]");
    const video = dialog.querySelector("video");
    let stream = null;

    function stop() {
      if (stream) { stream.getTracks().forEach(function (track) { track.stop(); }); }
      stream = null;
      video.srcObject = null;
    }

    async function look(detector) {
      if (!stream) { return; }
      const codes = await detector.detect(video).catch(function () { return []; });
      if (!stream) { return; }
      if (!codes.length) { setTimeout(look, EVERY_MS, detector); return; }
      form.elements.q.value = codes[0].rawValue;
      dialog.close();
      form.requestSubmit();
    }

    async function start() {
      says.textContent = says.dataset.looking;
      video.hidden = false;
      dialog.showModal();
      try {
        const detector = new BarcodeDetector({ formats: ["qr_code"] });
        const camera = await navigator.mediaDevices.getUserMedia(
          { video: { facingMode: "environment" } });
        if (!dialog.open) { camera.getTracks().forEach(function (track) { track.stop(); }); return; }
        stream = camera;
        video.srcObject = stream;
        await video.play();
        look(detector);
      } catch (refused) {
        stop();
        // A black field would look like a camera that is about to see something.
        video.hidden = true;
        says.textContent = says.dataset.refused;
      }
    }

    scan.addEventListener("click", start);
    dialog.querySelector("[data-scan-stop]").addEventListener("click", function () { dialog.close(); });
    dialog.addEventListener("close", stop);
    scan.hidden = false;
  }

  // Without a safe connection a browser hides its camera.
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) { return; }
  document.querySelectorAll("[data-find]").forEach(set_up);
}());
