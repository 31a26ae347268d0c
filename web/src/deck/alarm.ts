// Sound and vibration at the end of a trial or of the washout, and a screen that stays on.

let audio: AudioContext | undefined;

/** ready is called in a tap: browsers make no sound before one. */
export function ready(): void {
  try {
    audio ??= new AudioContext();
    if (audio.state === 'suspended') void audio.resume();
  } catch {
    // no sound on this tablet
  }
}

/** rest lets go of the loudspeaker: an idle one takes current. */
export function rest(): void {
  void audio?.suspend();
}

/** ring makes three notes of half a second. */
export function ring(sound: boolean, vibration: boolean): void {
  if (vibration) navigator.vibrate?.([400, 200, 400, 200, 400]);
  if (!sound || !audio) return;
  const context = audio;
  void context.resume().then(() => {
    const from = context.currentTime;
    for (let i = 0; i < 3; i++) {
      const note = context.createOscillator();
      const loud = context.createGain();
      note.frequency.value = 880;
      loud.gain.setValueAtTime(0.4, from + i * 0.7);
      loud.gain.setValueAtTime(0, from + i * 0.7 + 0.4);
      note.connect(loud).connect(context.destination);
      note.start(from + i * 0.7);
      note.stop(from + i * 0.7 + 0.45);
      if (i === 2) note.onended = () => rest();
    }
  });
}

interface Lock {
  release(): Promise<void>;
}

/** stayAwake keeps the screen on while it is in front. Returns what ends that. */
export function stayAwake(): () => void {
  let lock: Lock | undefined;
  let ended = false;
  const ask = async () => {
    if (document.visibilityState !== 'visible' || ended) return;
    const got = await navigator.wakeLock?.request('screen').catch(() => undefined); // a low battery may refuse
    if (ended) void got?.release();
    else lock = got;
  };
  document.addEventListener('visibilitychange', ask);
  void ask();
  return () => {
    ended = true;
    document.removeEventListener('visibilitychange', ask);
    void lock?.release();
  };
}
