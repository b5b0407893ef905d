/* The cue's sound on this display: off unless it was switched on here. The kit sounds anyway. */

import { CUES } from "./cues.js";

const LOUD = 0.25;

export class Sounder {
  constructor() {
    this._cue = null;
    this._next = 0;
    this._audio = null;
  }

  /** Sound the cue that is shown, again after its interval, as long as it lasts. */
  follow(cue, isOn) {
    const sound = CUES[cue]?.sound;
    const now = performance.now() / 1000;
    if (cue !== this._cue) {
      this._cue = cue;
      this._next = now;
    }
    if (!isOn || !sound || now < this._next) return;
    this._next = now + CUES[cue].repeat_s;
    this._play(sound);
  }

  _play({ pitch_Hz, rhythm_s }) {
    this._audio ??= new AudioContext();
    if (this._audio.state !== "running") this._audio.resume();
    let at = this._audio.currentTime + 0.02;
    rhythm_s.forEach((length, n) => {
      if (n % 2 === 0) this._beep(at, length, pitch_Hz);
      at += length;
    });
  }

  _beep(at, length, pitch_Hz) {
    const tone = this._audio.createOscillator();
    const gain = this._audio.createGain();
    tone.frequency.value = pitch_Hz;
    gain.gain.setValueAtTime(LOUD, at);
    tone.connect(gain).connect(this._audio.destination);
    tone.start(at);
    tone.stop(at + length);
  }
}
