/* How each cue looks and sounds: lamps, patterns and rhythms are the kit's own, and a test holds
   this table to the kit's vocabulary. The band is the board's: the lamp's colour behind the word. */

export const LAMPS = ["red", "amber", "blue", "white"];

export const CUES = {
  wait: { lamp: "white", pattern: "slow", band: "calm" },
  "go-on": { lamp: "white", pattern: "steady", band: "white" },
  "get-ready": {
    lamp: "amber",
    pattern: "slow",
    band: "amber",
    sound: { pitch_Hz: 1600, rhythm_s: [0.3] },
    repeat_s: 30,
  },
  open: {
    lamp: "blue",
    pattern: "normal",
    band: "blue",
    sound: { pitch_Hz: 2000, rhythm_s: [0.2, 0.15, 0.2, 0.15, 0.2] },
    repeat_s: 15,
  },
  shut: {
    lamp: "blue",
    pattern: "double",
    band: "blue",
    sound: { pitch_Hz: 2500, rhythm_s: [0.15, 0.1, 0.15, 0.1, 0.15, 0.35, 0.15, 0.1, 0.15] },
    repeat_s: 5,
  },
  add: {
    lamp: "blue",
    pattern: "long",
    band: "blue",
    sound: { pitch_Hz: 2000, rhythm_s: [0.15, 0.15, 0.5, 0.15, 0.15] },
    repeat_s: 20,
  },
  stop: {
    lamp: "red",
    pattern: "fast",
    band: "red",
    sound: { pitch_Hz: 2500, rhythm_s: [0.25, 0.08, 0.25, 0.08, 0.25, 0.08, 0.25, 0.08, 0.25] },
    repeat_s: 3,
  },
  fault: {
    lamp: "amber",
    pattern: "double",
    band: "amber",
    sound: { pitch_Hz: 1600, rhythm_s: [0.5, 0.2, 0.5, 0.2, 0.5] },
    repeat_s: 20,
  },
};
