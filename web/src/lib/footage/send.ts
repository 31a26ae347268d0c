// A file of footage to the program, whole, with how far it is. It may be many
// gigabytes: it is never held in memory.
import { RequestError } from '$lib/api/client';

/** send gives the name under which an import takes the file. */
export function send(url: string, file: Blob, tell: (share: number) => void, signal: AbortSignal): Promise<string> {
  return new Promise((done, failed) => {
    const request = new XMLHttpRequest();
    request.open('POST', url);
    request.setRequestHeader('Content-Type', 'application/octet-stream');
    request.upload.onprogress = (e) => tell(e.total > 0 ? e.loaded / e.total : 0);
    request.onerror = () => failed(new RequestError(0, ''));
    request.onabort = () => failed(new DOMException('stopped', 'AbortError'));
    request.onload = () => {
      const answer = parsed(request.responseText);
      if (request.status === 200 && typeof answer.token === 'string') done(answer.token);
      else failed(new RequestError(request.status, typeof answer.detail === 'string' ? answer.detail : ''));
    };
    signal.addEventListener('abort', () => request.abort());
    request.send(file);
  });
}

function parsed(text: string): { token?: unknown; detail?: unknown } {
  try {
    return (JSON.parse(text) as object | null) ?? {};
  } catch {
    return {};
  }
}
