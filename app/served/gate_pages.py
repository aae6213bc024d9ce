"""The few pages that stand before the dashboard: plain HTML without scripts."""

from __future__ import annotations

from html import escape

from app.served.sign_ins import LEAST_CODE, MOST_CODE, SESSION_S

HTML = b"text/html; charset=utf-8"
_FRAME = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Joint trench</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>body{{font:1.1rem/1.5 sans-serif;max-width:28rem;margin:12vh auto;padding:0 1rem;
  color:#23262b;background:#fbf9f4}}
input,button{{font:inherit;padding:.6rem;width:100%;box-sizing:border-box;margin:.3rem 0 1rem}}</style>
<h1>Joint trench</h1>{0}</html>"""


def seconds() -> int:
    """Return for how long a browser keeps its session."""
    return int(SESSION_S)


def refused_page(words: str, account: str = "") -> bytes:
    """Return a page that says why nothing is shown; with the address at which one may sign in with an account."""
    way = f'<p><a href="{escape(account)}">Sign in with your firm\'s account</a></p>' if account else ""
    return _framed(f"<p>{escape(words)}</p>{way}")


def link_page(person: str, site: str, fault: str = "") -> bytes:
    """Return the page of a personal link, which asks for the number that was told another way."""
    said = f"<p>This link is for <b>{escape(person)}</b> on <b>{escape(site)}</b>. It opens once, on one phone.</p>"
    box = 'name="number" inputmode="numeric" maxlength="12" autocomplete="one-time-code" required'
    return _framed(
        f'{_alert(fault)}{said}<form method="post"><label>The number that the contractor told you<input {box}></label>'
        "<button>Open it on this phone</button></form>"
    )


def code_page(fault: str) -> bytes:
    """Return the page on which somebody chooses the code that confirms what they release."""
    box = f'type="password" minlength="{LEAST_CODE}" maxlength="{MOST_CODE}" autocomplete="new-password" required'
    return _framed(
        f"{_alert(fault)}<p>Choose a code of your own. It confirms what you release; tell it to nobody.</p>"
        f'<form method="post" action="/code"><label>Your code<input name="code" {box}></label>'
        f'<label>Once more<input name="again" {box}></label><button>Keep it</button></form>'
    )


def _alert(fault: str) -> str:
    return f'<p role="alert"><b>{escape(fault)}</b></p>' if fault else ""


def _framed(body: str) -> bytes:
    return _FRAME.format(body).encode()
