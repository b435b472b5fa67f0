// Keeps the live connection. The browser's own retry does not notice a connection that is open and mute, nor does it
// come back after an error status, so this opens a new one whenever nothing was heard for a while.

const RETRY_MS = 2000;
const MUTE_MS = 4000;

/** `handlers`: hello, room, level, reading, alarm, beat with their object; lost without. */
export function openStream(handlers) {
  let source = null;
  let heard = 0;
  let openedAt = 0;
  const connect = () => {
    source?.close();
    openedAt = heard = performance.now();
    const mine = (source = new EventSource("/api/stream"));
    for (const name of ["hello", "room", "level", "reading", "alarm", "beat"])
      mine.addEventListener(name, (event) => {
        if (mine !== source) return;
        heard = performance.now();
        handlers[name](JSON.parse(event.data));
      });
    mine.addEventListener("error", () => {
      if (mine === source) handlers.lost();
    });
  };
  const watch = () => {
    const now = performance.now();
    const closed = source.readyState === EventSource.CLOSED;
    if ((closed && now - openedAt > RETRY_MS) || (now - heard > MUTE_MS && now - openedAt > MUTE_MS)) {
      handlers.lost();
      connect();
    }
  };
  connect();
  const timer = setInterval(watch, 500);
  return () => {
    clearInterval(timer);
    source.close();
  };
}
