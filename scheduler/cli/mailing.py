"""`jointtrench ask`: everybody who is to come is asked in writing, by mail or text, once and again when it changes."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from scheduler import BadInput, Case, Situation
from scheduler.cli.asked import fault, opened, place_for, say_on_the_side, site_moment
from scheduler.cli.calls import situation_asked
from scheduler.cli.commands import folder_for
from scheduler.export import (
    Invitation,
    MailSettings,
    ToAsk,
    checked_base,
    invitation_mail,
    mail_draft,
    organiser,
    read_mail_settings,
    sending,
    short_text,
    subject,
    text_draft,
    to_ask,
)
from scheduler.ledger import write_down
from scheduler.spoken import count
from scheduler.whole_files import write_whole

HAND_OVER = "Send the files with your own mail program; each is on record as asked, so that it is not asked twice."


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    ask = sub.add_parser("ask", help="ask everybody who is to come in writing: files, drafts, or sent by your server")
    ask.add_argument("site", type=Path)
    ask.add_argument("--party", metavar="ID", help="only this inspection, outside work or trade")
    ask.add_argument("--show", action="store_true", help="show who would be asked, and write nothing down")
    ask.add_argument("--text", action="store_true", help="by text to their telephones; drafts are printed")
    ask.add_argument("--again", action="store_true", help="ask once more who was asked and has not answered")
    ask.add_argument("--out", type=Path, default=Path("invitations"), help="folder for mails (default: invitations)")
    ask.add_argument("--config", type=Path, metavar="FILE", help="a configuration with [mail], as of `serve`")
    ask.add_argument("--send", action="store_true", help="by the mail server of the configuration")
    ask.add_argument("--link", default="", metavar="URL", help="the page that answers, for texts")
    ask.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who asks")
    ask.add_argument("--now", metavar="TIME", help="the moment it is written down, as with `report`")
    ask.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    ask.set_defaults(run=ask_in_writing)


def ask_in_writing(arguments: argparse.Namespace) -> int:
    """Ask whoever is to be asked, and write each down as it went out; nothing is asked twice in silence."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    settings = read_mail_settings(arguments.config) if arguments.config else MailSettings()
    if arguments.send and settings.smtp is None:
        raise BadInput([fault("--send", "needs a mail server", "", "--config FILE with [mail.smtp] host, port")])
    link = checked_base(arguments.link)
    situation = situation_asked(arguments, case, now, all_of_it=True)
    means = "text" if arguments.text else "mail"
    found = to_ask(situation, means="text" if arguments.text else "mail", again=arguments.again)
    chosen = [i for i in found.invitations if arguments.party in (None, i.of)]
    asker = organiser(situation, settings.sender, by_mail=not arguments.text)
    if chosen and not arguments.show:
        with _going_out(arguments, case, situation, settings, now) as go_out:
            for invitation in chosen:
                mail = None if arguments.text else invitation_mail(situation, invitation, asker, now)
                print(go_out(invitation, mail))
                if arguments.text:
                    text = short_text(situation, invitation, asker, link)
                    print(f"  {text}\n  {text_draft(invitation, text)}")
                elif not arguments.send:
                    print(f"  {mail_draft(situation, invitation, asker)}")
    elif chosen:
        for invitation in chosen:
            print(f"{_whom(invitation, means)}: {subject(situation, invitation)}")
    print(_summary(arguments, found, len(chosen)))
    return 0


@contextmanager
def _going_out(
    arguments: argparse.Namespace, case: Case, situation: Situation, settings: MailSettings, now: datetime
) -> Iterator[Callable[[Invitation, EmailMessage | None], str]]:
    """Return what lets an invitation go out and writes it down, one after the other."""
    with closing(place_for(arguments, case).open(tell=say_on_the_side)) as journal:

        def written(invitation: Invitation, *, sent: bool) -> None:
            asked = invitation.as_asked(now, means="text" if arguments.text else "mail", sent=sent)
            write_down(journal, case.site, case.network, asked, at=now, by=arguments.by)

        def handed_over(invitation: Invitation, mail: EmailMessage | None) -> str:
            if mail is None:
                written(invitation, sent=False)
                return f"Text to {_whom(invitation, 'text')}:"
            name = f"{invitation.of}-{invitation.uid[:8]}-{invitation.sequence}.eml"
            write_whole(folder_for(arguments.out) / name, mail.as_bytes())
            written(invitation, sent=False)
            return f"{arguments.out / name}: {subject(situation, invitation)}"

        if arguments.send and settings.smtp is not None and not arguments.text:
            with sending(settings.smtp) as sender:

                def sent(invitation: Invitation, mail: EmailMessage | None) -> str:
                    assert mail is not None
                    sender.send(mail)
                    written(invitation, sent=True)
                    return f"Sent to {_whom(invitation, 'mail')}: {subject(situation, invitation)}"

                yield sent
        else:
            yield handed_over


def _whom(invitation: Invitation, means: str) -> str:
    to = invitation.person.mail if means == "mail" else invitation.person.phone
    return f"{invitation.person.name} ({to})"


def _summary(arguments: argparse.Namespace, found: ToAsk, asked: int) -> str:
    would = " would be" if arguments.show else ""
    lines = ["", f"{count(asked, 'appointment')}{would} asked for."]
    if found.asked_before and not arguments.again:
        lines.append(f"{count(len(found.asked_before), 'appointment')} asked for before, not answered yet: --again.")
    if found.by_phone:
        address = "telephone number" if arguments.text else "mail address"
        whom = dict.fromkeys(c.to for c in found.by_phone)
        lines.append(f"To call, for want of a {address} or of a letter before: {'; '.join(whom)}.")
    if asked and not (arguments.show or arguments.send or arguments.text):
        lines.append(HAND_OVER)
    return "\n".join(lines)
