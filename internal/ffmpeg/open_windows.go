package ffmpeg

// dontWait: named pipes are no files here.
const dontWait = 0
