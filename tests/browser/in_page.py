"""Questions asked inside the page."""

from __future__ import annotations

AT_REST = """() => {
  const app = document.querySelector('[data-testid=stApp]');
  const drawn = e => e.offsetParent === null || e.querySelector('.main-svg');
  return app && app.dataset.testScriptState === 'notRunning' && document.querySelector('h1')
    && !document.querySelector('[data-testid=stSkeleton]')
    && [...document.querySelectorAll('[data-testid=stPlotlyChart]')].every(drawn);
}"""

AT_WORK = """() => document.querySelector('[data-testid=stApp]')?.dataset.testScriptState !== 'notRunning'
  || Boolean(document.querySelector('[data-testid=stMain] [data-stale=true]'))"""

NOTHING_STALE = "() => !document.querySelector('[data-testid=stMain] [data-stale=true]')"

ON_PAGE = "path => location.pathname === path && !document.querySelector('[data-stale=true]')"

OVERFLOW = """() => {
  const main = document.querySelector('[data-testid=stMain]');
  return Math.max(document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth);
}"""

HEIGHT = "() => document.querySelector('[data-testid=stMain]').scrollHeight"
