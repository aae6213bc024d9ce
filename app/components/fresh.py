"""What is shown only as long as it is kept up to date: else it turns grey and says so.

The browser does this by itself, with no word from the server, in two ways. Each refresh starts an animation of the
style sheet anew, and one that is never started again runs to its end. An animation stands still while a machine
sleeps, so a script also compares the clock: a page that wakes up greys at once what is older than that.
"""

from __future__ import annotations

import streamlit as st

LOOK_EVERY_S = 2.0
"""How often the record is looked at again."""
STALE_S = 10.0
"""After which what was not refreshed turns grey."""
LOST = (
    "Not up to date any more: for more than {seconds:.0f} seconds nothing has been heard of the record. "
    "Do not cover anything by what is shown here. "
)
LAST = "Last heard of at"
AGO = "min ago"
STYLE = """<div class="stale-words {name}-words" role="status">{words}<span class="heard-at"></span></div>
<style>
@keyframes {name}-grey-{turn} {{ to {{ filter: grayscale(1); opacity: .4 }} }}
@keyframes {name}-say-{turn} {{ to {{ visibility: visible; max-height: 12rem; padding: .6rem 1rem }} }}
.st-key-{name} {{ animation: {name}-grey-{turn} .1s linear {seconds}s forwards }}
.{name}-words {{ animation: {name}-say-{turn} .1s linear {seconds}s forwards }}
.stale-words {{ visibility: hidden; max-height: 0; overflow: hidden; padding: 0; font-weight: 600;
  background: #5a5f66; color: #fff; border-radius: .4rem }}
.page-words {{ position: fixed; left: .8rem; right: .8rem; bottom: .8rem; z-index: 1000 }}
[data-stale-{name}] .st-key-{name} {{ animation: none; filter: grayscale(1); opacity: .4 }}
[data-stale-{name}] .{name}-words {{ animation: none; visibility: visible; max-height: 12rem; padding: .6rem 1rem }}
</style>
<script>
(() => {{
  const page = document.documentElement, heard = (window.heardOf ??= {{}});
  heard["{name}"] = Date.now();  // {turn}
  page.removeAttribute("data-stale-{name}");
  if (window.staleByClock) return;
  window.staleByClock = () => {{
    for (const [name, at] of Object.entries(heard)) {{
      page.toggleAttribute(`data-stale-${{name}}`, Math.abs(Date.now() - at) > {seconds} * 1000);
      const last = "{last} " + new Date(at).toLocaleTimeString([], {{hour12: false}});
      const minutes = Math.floor(Math.abs(Date.now() - at) / 60000), ago = minutes ? `, ${{minutes}} {ago}` : "";
      for (const said of document.querySelectorAll(`.${{name}}-words .heard-at`))
        if (said.textContent !== last + ago + ".") said.textContent = last + ago + ".";
    }}
  }};
  setInterval(window.staleByClock, 250);
  for (const woken of ["visibilitychange", "pageshow", "focus", "resume", "online"])
    for (const where of [window, document]) where.addEventListener(woken, window.staleByClock);
}})();
</script>"""


def stay_fresh(name: str) -> None:
    """Let the container of a key be as it is for some seconds more; a later call puts that off again."""
    turn = 1 - int(st.session_state.get(f"fresh {name}", 0))
    st.session_state[f"fresh {name}"] = turn
    words = STYLE.format(
        name=name, turn="ab"[turn], seconds=STALE_S, words=LOST.format(seconds=STALE_S), last=LAST, ago=AGO
    )
    st.html(words, unsafe_allow_javascript=True)
