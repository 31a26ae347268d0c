// A voice note of two minutes at most.

export const longestVoiceMs = 120_000;
const kinds = ['audio/mp4', 'audio/webm;codecs=opus', 'audio/ogg;codecs=opus'];

export interface Voice {
  data: Uint8Array;
  /** Media type without its parameters. */
  type: string;
}

export class Recording {
  #recorder: MediaRecorder;
  #stream: MediaStream;
  #parts: Blob[] = [];
  #limit: ReturnType<typeof setTimeout>;
  /** Settles when it was stopped, by hand or by the limit. */
  readonly done: Promise<Voice>;

  private constructor(stream: MediaStream) {
    this.#stream = stream;
    const mimeType = kinds.find((k) => MediaRecorder.isTypeSupported(k));
    this.#recorder = new MediaRecorder(stream, { ...(mimeType ? { mimeType } : {}), audioBitsPerSecond: 32_000 });
    this.#recorder.ondataavailable = (e) => this.#parts.push(e.data);
    this.done = new Promise((done) => {
      this.#recorder.onstop = () => {
        clearTimeout(this.#limit);
        for (const track of this.#stream.getTracks()) track.stop();
        const all = new Blob(this.#parts);
        const type = (this.#recorder.mimeType || mimeType || 'audio/webm').split(';')[0]!;
        void all.arrayBuffer().then((bytes) => done({ data: new Uint8Array(bytes), type }));
      };
    });
    // In parts of a second: what was said is there if the end never comes.
    this.#recorder.start(1000);
    this.#limit = setTimeout(() => this.stop(), longestVoiceMs);
  }

  /** begin asks for the microphone. Errors: none there, or not allowed. */
  static async begin(): Promise<Recording> {
    return new Recording(await navigator.mediaDevices.getUserMedia({ audio: true }));
  }

  stop(): void {
    if (this.#recorder.state !== 'inactive') this.#recorder.stop();
  }
}

export const canRecord = (): boolean =>
  typeof MediaRecorder !== 'undefined' && typeof navigator.mediaDevices?.getUserMedia === 'function';
