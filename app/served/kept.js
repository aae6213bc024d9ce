// Makes the page installable, and keeps its first page as it was last shown, for when there is no connection;
// typed.js keeps what is typed.
(() => {
  if (window.keepsPage || !navigator.serviceWorker) return;
  window.keepsPage = true;
  const link = document.createElement("link");
  Object.assign(link, { rel: "manifest", href: "/manifest.webmanifest", crossOrigin: "use-credentials" });
  const typed = Object.assign(document.createElement("script"), { src: "/typed.js" });
  document.head.append(link, typed);
  navigator.serviceWorker.register("/worker.js").catch(() => {});  // then it is simply not kept
  const shown = () => {
    const page = document.querySelector("[data-testid=stMain]");
    const old = document.documentElement.hasAttribute("data-stale-page") || !navigator.onLine;
    return location.pathname === "/" && page && page.querySelector("h1") && !old ? page.innerText : "";
  };
  setInterval(() => {
    const text = shown();
    if (text) navigator.serviceWorker.controller?.postMessage({ text, at: Date.now() });
  }, 5000);
})();
