/* Plays the notes a page names, from the numbers it gives: each name of a note becomes a button.
 *
 * Without this script the names stay as words. A press plays, the next one, on any note, stops what sounds.
 */
"use strict";

(() => {
  const Context = window.AudioContext || window.webkitAudioContext;
  if (!Context) return;
  const RISE = 0.06;
  const HELD = 1.5;
  const FALL = 0.2;
  const LEVEL = 0.4;
  let context = null;
  let playing = null;

  /* One note from the moment `at`, in seconds of the context; gives back its source, which ends by itself. */
  function note({ hz, partials }, at) {
    const source = context.createOscillator();
    const strengths = Float32Array.of(0, ...partials);
    source.setPeriodicWave(context.createPeriodicWave(new Float32Array(strengths.length), strengths));
    source.frequency.value = hz;
    const swell = context.createGain();
    swell.gain.setValueAtTime(0, at);
    swell.gain.linearRampToValueAtTime(LEVEL, at + RISE);
    swell.gain.setValueAtTime(LEVEL, at + HELD);
    swell.gain.linearRampToValueAtTime(0, at + HELD + FALL);
    source.connect(swell);
    swell.connect(context.destination);
    source.start(at);
    source.stop(at + HELD + FALL);
    return source;
  }

  function stop() {
    if (!playing) return;
    const { button, sources } = playing;
    playing = null;
    button.setAttribute("aria-pressed", "false");
    sources.forEach((source) => { source.onended = null; source.stop(); });
  }

  function press(button) {
    const again = playing && playing.button === button;
    stop();
    if (again) return;
    context = context || new Context();
    context.resume();
    const begin = context.currentTime + 0.05;
    const sources = JSON.parse(button.dataset.tones).map((tone, n) => note(tone, begin + n * (HELD + FALL)));
    playing = { button, sources };
    button.setAttribute("aria-pressed", "true");
    sources[sources.length - 1].onended = stop;
  }

  function begin() {
    document.querySelectorAll("span[data-tones]").forEach((words) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = words.className;
      button.dataset.tones = words.dataset.tones;
      button.setAttribute("aria-pressed", "false");
      button.append(...words.childNodes);
      button.addEventListener("click", () => press(button));
      words.replaceWith(button);
    });
  }

  begin();
  // The page that listens puts a new main part in the place of the old one, the one without a connection what it shows.
  const changes = document.querySelector("[data-shown]") ?? document.querySelector("main");
  new MutationObserver(() => { stop(); begin(); }).observe(changes, { childList: true });
})();
