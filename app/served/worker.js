// Without a connection, shows what the first page said last, marked as old, and what was typed and not yet sent;
// forgets it once nobody is signed in.
const KEPT = "kept";
const WHERE = "/kept-page";
const TYPED = "/kept-words/";
const LOOK = "body{font:1.1rem/1.5 sans-serif;max-width:40rem;margin:1rem auto;padding:0 1rem;color:#23262b;background:#fbf9f4}"
  + "strong{display:block;padding:.8rem 1rem;background:#5a5f66;color:#fff;border-radius:.4rem}"
  + "pre{font:inherit;white-space:pre-wrap;opacity:.75}";
const escaped = (text) => text.replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`);
const age = (at) => {
  const minutes = Math.max(0, Math.round((Date.now() - at) / 60000));
  return minutes < 90 ? `${minutes} minutes` : `${Math.round(minutes / 60)} hours`;
};

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("message", (event) => {
  const { text, at } = event.data;
  const kept = new Response(JSON.stringify({ text: String(text).slice(0, 100000), at: Number(at) }));
  event.waitUntil(caches.open(KEPT).then((cache) => cache.put(WHERE, kept)));
});

const old = async () => {
  const cache = await caches.open(KEPT), kept = await cache.match(WHERE), typed = [];
  for (const one of await cache.keys()) if (one.url.includes(TYPED)) typed.push(await (await cache.match(one)).json());
  if (!kept && !typed.length) return Response.error();
  const { text, at } = kept ? await kept.json() : { text: "", at: 0 };
  const words = kept ? `No connection. This is old: how the site stood ${age(at)} ago, at ${new Date(at).toLocaleString()}. `
    + "It may be wrong by now. Do not cover anything by it." : "No connection.";
  const still = typed.map((one) => `<p>Typed ${age(one.at)} ago and not known to be written down: “${escaped(one.full)}” `
    + "It is kept on this phone, and offered again once the connection is back.</p>").join("");
  const page = `<!doctype html><html lang="en"><meta charset="utf-8"><title>Joint trench, old</title>`
    + `<meta name="viewport" content="width=device-width, initial-scale=1"><style>${LOOK}</style>`
    + `<strong role="alert">${escaped(words)}</strong>${still}<pre>${escaped(text)}</pre></html>`;
  const policy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'";
  return new Response(page, { headers: { "content-type": "text/html; charset=utf-8", "content-security-policy": policy } });
};

const look = async (request) => {
  let answer;
  try {
    answer = await fetch(request);
  } catch {
    return old();
  }
  const changed = request.method === "POST" && (answer.ok || answer.type === "opaqueredirect");  // signed in or out
  if (answer.status === 401 || changed) await caches.delete(KEPT);
  return answer.status >= 502 && answer.status <= 504 ? old() : answer;
};
self.addEventListener("fetch", (event) => {
  if (event.request.mode === "navigate") event.respondWith(look(event.request));
});
