"""Questions asked inside the page."""

from __future__ import annotations

AT_REST = """() => {
  const app = document.querySelector('[data-testid=stApp]');
  const drawn = e => e.offsetParent === null || e.querySelector('.main-svg');
  return app && app.dataset.testScriptState === 'notRunning' && document.querySelector('h1')
    && !document.querySelector('[data-testid=stSkeleton]')
    && [...document.querySelectorAll('[data-testid=stPlotlyChart]')].every(drawn);
}"""

COUNT_RUNS = """(() => {
  const since = new MutationObserver(() => { window.runsSinceTouched = (window.runsSinceTouched || 0) + 1; });
  since.observe(document, {subtree: true, attributes: true, attributeFilter: ['data-test-script-state']});
  const touched = () => { window.runsSinceTouched = 0; };
  for (const kind of ['pointerdown', 'keydown', 'input', 'change']) addEventListener(kind, touched, true);
})()"""
"""Run once in every new page: counts how often the script began or ended since the user last did anything."""

ANSWERING = """() => window.runsSinceTouched > 0
  || document.querySelector('[data-testid=stApp]')?.dataset.testScriptState !== 'notRunning'
  || Boolean(document.querySelector('[data-testid=stMain] [data-stale=true]'))"""
"""Whether the page has begun to answer what the user did last, or already has."""

NOTHING_STALE = "() => !document.querySelector('[data-testid=stMain] [data-stale=true]')"

ON_PAGE = "path => location.pathname === path && !document.querySelector('[data-stale=true]')"

IS_DARK = "() => matchMedia('(prefers-color-scheme: dark)').matches"

SCHEME_IS = "scheme => getComputedStyle(document.querySelector('[data-testid=stApp]')).colorScheme === scheme"

OVERFLOW = """() => {
  const main = document.querySelector('[data-testid=stMain]');
  return Math.max(document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth);
}"""

HEIGHT = "() => document.querySelector('[data-testid=stMain]').scrollHeight"
