// Pictures that were decoded, kept within a limit of bytes and closed when they
// have to make room: those that were not looked at for longest first.

export interface Picture {
  bitmap: ImageBitmap;
  frame: number;
}

const bytesOf = (b: { width: number; height: number }): number => b.width * b.height * 4;

export class PictureCache {
  #kept = new Map<number, ImageBitmap>();
  #bytes = 0;

  constructor(
    private readonly mostBytes = 400e6,
    private readonly most = 120,
  ) {}

  get bytes(): number {
    return this.#bytes;
  }

  get size(): number {
    return this.#kept.size;
  }

  /** room is how many pictures of that size can be kept at once. */
  room(width: number, height: number): number {
    return Math.max(2, Math.min(this.most, Math.floor(this.mostBytes / bytesOf({ width, height }))));
  }

  has(frame: number): boolean {
    return this.#kept.has(frame);
  }

  get(frame: number): ImageBitmap | undefined {
    const found = this.#kept.get(frame);
    if (found) {
      this.#kept.delete(frame);
      this.#kept.set(frame, found);
    }
    return found;
  }

  put(frame: number, bitmap: ImageBitmap): void {
    this.#drop(frame);
    this.#kept.set(frame, bitmap);
    this.#bytes += bytesOf(bitmap);
    const most = this.room(bitmap.width, bitmap.height);
    for (const oldest of this.#kept.keys()) {
      if (this.#kept.size <= most && (this.#bytes <= this.mostBytes || this.#kept.size <= 2)) break;
      this.#drop(oldest);
    }
  }

  #drop(frame: number): void {
    const found = this.#kept.get(frame);
    if (!found) return;
    this.#kept.delete(frame);
    this.#bytes -= bytesOf(found); // before it is closed: a closed one has no size
    found.close();
  }

  clear(): void {
    for (const frame of [...this.#kept.keys()]) this.#drop(frame);
  }
}
