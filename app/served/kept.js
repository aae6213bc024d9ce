// Makes the page installable, and keeps its first page as it was last shown, for when there is no connection.
(() => {
  if (window.keepsPage || !navigator.serviceWorker) return;
  window.keepsPage = true;
  const link = document.createElement("link");
  Object.assign(link, { rel: "manifest", href: "/manifest.webmanifest", crossOrigin: "use-credentials" });
  document.head.append(link);
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
