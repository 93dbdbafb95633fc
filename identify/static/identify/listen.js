/* Records a few seconds, or decodes a file, and sends it as a 16-bit WAV; the answer is the page's new main part.
 *
 * The raw microphone is asked for: echo cancellation, noise suppression and automatic gain take a held tone for noise.
 * Nothing is kept here either: the samples are gone with the page, and the microphone is let go after every note.
 */
"use strict";

(() => {
  const SECONDS = 5;
  const MOST_SEND = 6 * 1024 * 1024;
  const MOST_DECODE = 40 * 1024 * 1024;
  const FILE_RATE = 24000;
  const FILE_SECONDS = 30;

  const WHY = {
    insecure:
      _s("This browser gives a microphone only to pages whose address begins with https, and this one does not. Record the note with another app and take the file."),
    missing: _s("This browser has no way to a microphone. Record the note with another app and take the file."),
    NotAllowedError:
      _s("The microphone was not allowed. Allow it for this site in the browser’s settings and try again, or take a file."),
    NotFoundError: _s("No microphone was found. Plug one in and try again, or take a file."),
    NotReadableError: _s("Another program has the microphone. Close that and try again, or take a file."),
    other: _s("The microphone did not start. Try again, or take a file."),
    large: _s("The file is larger than 40 MB. One to five seconds are enough."),
    sending: _s("The recording could not be sent. Check the connection and play again; all else is kept."),
  };

  /* A WAV file of one channel, 16 bits. */
  function wav(samples, rate) {
    const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
    const text = (at, word) => [...word].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
    text(0, "RIFF");
    view.setUint32(4, 36 + 2 * samples.length, true);
    text(8, "WAVEfmt ");
    view.setUint32(16, 16, true);
    view.setUint16(20, 1, true);
    view.setUint16(22, 1, true);
    view.setUint32(24, rate, true);
    view.setUint32(28, 2 * rate, true);
    view.setUint16(32, 2, true);
    view.setUint16(34, 16, true);
    text(36, "data");
    view.setUint32(40, 2 * samples.length, true);
    samples.forEach((value, i) => view.setInt16(44 + 2 * i, Math.max(-1, Math.min(1, value)) * 32767, true));
    return new Blob([view.buffer], { type: "audio/wav" });
  }

  function joined(blocks) {
    const all = new Float32Array(blocks.reduce((sum, block) => sum + block.length, 0));
    let at = 0;
    for (const block of blocks) {
      all.set(block, at);
      at += block.length;
    }
    return all;
  }

  /* Calls `hear` with every block of the stream until the function it gives back is called. */
  async function tapped(context, stream, tap, hear) {
    const source = context.createMediaStreamSource(stream);
    const silent = context.createGain();
    silent.gain.value = 0;
    silent.connect(context.destination);
    let node;
    if (context.audioWorklet) {
      await context.audioWorklet.addModule(tap);
      node = new AudioWorkletNode(context, "tap", { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" });
      node.port.onmessage = (message) => hear(message.data);
    } else {
      node = context.createScriptProcessor(2048, 1, 1);
      node.onaudioprocess = (event) => hear(event.inputBuffer.getChannelData(0).slice());
    }
    source.connect(node);
    node.connect(silent);
    return () => {
      source.disconnect();
      node.disconnect();
    };
  }

  /* Mono samples of a file of any kind the browser can play; rejects when it cannot. */
  async function decoded(file) {
    const context = new OfflineAudioContext(1, 1, FILE_RATE);
    const sound = await context.decodeAudioData(await file.arrayBuffer());
    const length = Math.min(sound.length, FILE_SECONDS * FILE_RATE);
    const mono = new Float32Array(length);
    for (let channel = 0; channel < sound.numberOfChannels; channel += 1) {
      sound.getChannelData(channel).subarray(0, length).forEach((value, i) => { mono[i] += value / sound.numberOfChannels; });
    }
    return wav(mono, FILE_RATE);
  }

  async function isWav(file) {
    return (await file.slice(0, 4).text()) === "RIFF";
  }

  function begin() {
    const part = document.querySelector("[data-listen]");
    if (!part) return;
    const find = (name) => part.querySelector(`[data-${name}]`);
    const form = part.querySelector("form");
    const button = find("record");
    const files = find("file");

    const why = (key) => {
      find("why").textContent = WHY[key] || WHY.other;
      find("why").hidden = false;
      files.open = key !== "sending" || files.open;
    };

    async function send(recording) {
      find("status").textContent = _s("Listening to it…");
      const data = new FormData();
      data.set("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
      data.set("recording", recording, "note.wav");
      let answer, page;
      try {
        answer = await fetch(form.action, { method: "POST", body: data });
        page = new DOMParser().parseFromString(await answer.text(), "text/html");
      } catch {
        find("status").textContent = "";
        return why("sending");
      }
      if (answer.redirected) return window.location.assign(answer.url);
      const main = page.querySelector("main");
      if (!main) return why("sending");
      document.title = page.title;
      document.querySelector("main").replaceChildren(...main.childNodes);
      const now = document.querySelector("[data-listen]");
      if (now) history.replaceState(null, "", now.dataset.here);
      begin();
      const told = document.getElementById("told");
      if (told) {
        told.focus({ preventScroll: true });
        told.scrollIntoView({ block: "nearest" });
      }
    }

    async function record() {
      find("why").hidden = true;
      const context = new (window.AudioContext || window.webkitAudioContext)();
      let stream;
      try {
        stream = await navigator.mediaDevices.getUserMedia({
          audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
        });
      } catch (refusal) {
        context.close();
        return why(refusal.name);
      }
      const blocks = [];
      let heard = 0;
      let over = false;
      let untap = () => {};
      const rate = context.sampleRate;
      const stop = () => {
        if (over) return;
        over = true;
        untap();
        stream.getTracks().forEach((track) => track.stop());
        context.close();
        find("levels").hidden = true;
        button.textContent = _s("Listen");
        button.disabled = true;
        button.onclick = null;
        send(wav(joined(blocks), rate)).finally(() => {
          button.disabled = false;
          button.onclick = record;
        });
      };
      try {
        find("left").textContent = "";
        await context.resume();
        untap = await tapped(context, stream, part.dataset.tap, (block) => {
          if (over) return;
          blocks.push(block);
          heard += block.length;
          find("level").value = Math.min(1, block.reduce((most, value) => Math.max(most, Math.abs(value)), 0));
          find("left").textContent = `${Math.max(0, Math.ceil(SECONDS - heard / rate))} s`;
          if (heard >= SECONDS * rate) stop();
        });
      } catch {
        stream.getTracks().forEach((track) => track.stop());
        context.close();
        return why("other");
      }
      find("levels").hidden = false;
      find("status").textContent = _s("Recording. Play, and hold the note.");
      button.textContent = _s("That is enough");
      button.onclick = stop;
    }

    const microphone = navigator.mediaDevices && navigator.mediaDevices.getUserMedia;
    if (microphone && (window.AudioContext || window.webkitAudioContext)) {
      find("microphone").hidden = false;
      files.open = false;
      button.onclick = record;
    } else {
      why(window.isSecureContext ? "missing" : "insecure");
    }
    find("any").hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const file = form.elements.recording.files[0];
      if (!file) return;
      if (file.size > MOST_DECODE) return why("large");
      // A WAV goes as it is, since the site reads it with care; so does what the browser cannot play, to be told why.
      let recording = file;
      if (file.size > MOST_SEND || !(await isWav(file))) {
        try {
          recording = await decoded(file);
        } catch {
          if (file.size > MOST_SEND) return why("large");
        }
      }
      const buttons = [button, form.querySelector("button")];
      buttons.forEach((one) => { one.disabled = true; });
      await send(recording);
      buttons.forEach((one) => { one.disabled = false; });
    });
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", begin);
  else begin();
})();
