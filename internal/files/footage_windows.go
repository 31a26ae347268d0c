package files

// dontWait is not needed: files and pipes have different names there.
const dontWait = 0
