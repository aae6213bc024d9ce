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
  window.runsSinceTouched = 0;
  const count = changes => { window.runsSinceTouched += changes.filter(c => c.oldValue === 'notRunning').length; };
  const attributeFilter = ['data-test-script-state'];
  new MutationObserver(count).observe(document, {subtree: true, attributeFilter, attributeOldValue: true});
  const touched = () => { window.runsSinceTouched = 0; };
  for (const kind of ['pointerdown', 'keydown', 'input', 'change']) addEventListener(kind, touched, true);
})()"""
"""Run once in every new page: counts how often the script began since the user last did anything.

What began before, as pages that look again every few seconds do, is no answer to it, though it may end after.
"""

ANSWERING = "() => window.runsSinceTouched > 0"

NOTHING_STALE = "() => !document.querySelector('[data-testid=stMain] [data-stale=true]')"

ON_PAGE = "path => location.pathname === path && !document.querySelector('[data-stale=true]')"

IS_DARK = "() => matchMedia('(prefers-color-scheme: dark)').matches"

SCHEME_IS = "scheme => getComputedStyle(document.querySelector('[data-testid=stApp]')).colorScheme === scheme"

OVERFLOW = """() => {
  const main = document.querySelector('[data-testid=stMain]');
  return Math.max(document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth);
}"""

HEIGHT = "() => document.querySelector('[data-testid=stMain]').scrollHeight"

IS_SEEN = """selector => {
  const shown = e => e.checkVisibility({visibilityProperty: true}) && e.clientWidth;
  const seen = root => [...root.querySelectorAll(selector)].some(shown)
    || [...root.querySelectorAll('.stBidiComponent *')].some(e => e.shadowRoot && seen(e.shadowRoot));
  return seen(document);
}"""
