"""`jointtrench ask` and `answers`: everybody who is to come is asked in writing, and what they answer is read."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from email.message import EmailMessage
from functools import partial
from pathlib import Path
from typing import Any, Literal

import scheduler
from scheduler import BadInput, Case, Situation
from scheduler.cli.asked import fault, line_of, opened, place_for, say_on_the_side, site_moment
from scheduler.cli.commands import folder_for
from scheduler.cli.site_today import plan_in_force, situation_asked
from scheduler.export import (
    LARGEST_MAIL,
    MAIL_EXAMPLE,
    Invitation,
    MailSettings,
    ToAsk,
    checked_base,
    invitation_mail,
    mail_draft,
    mailbox,
    organiser,
    read_answer,
    read_mail_settings,
    sending,
    short_text,
    subject,
    text_draft,
    to_ask,
)
from scheduler.ledger import fold, write_down
from scheduler.spoken import count
from scheduler.whole_files import write_whole

Mail = tuple[str, bytes, Callable[[], None]]
BY_MAIL = "mail"
"""How it is known who answered."""
HAND_OVER = "Send the files with your own mail program; each is on record as asked, so that it is not asked twice."


def add_to(sub: Any) -> None:
    """Add the commands to the command line."""
    shown = {
        "formatter_class": argparse.RawDescriptionHelpFormatter,
        "epilog": f"A configuration with mail servers, whole or beside what `serve` needs:\n\n{MAIL_EXAMPLE}",
    }
    said = "ask everybody who is to come in writing: files, drafts, or sent by your server"
    ask = sub.add_parser("ask", help=said, **shown)
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

    answers = sub.add_parser(
        "answers", help="read what people answered: from mails in files, or from your mailbox", **shown
    )
    answers.add_argument("site", type=Path)
    answers.add_argument("--mail", nargs="+", type=Path, default=[], metavar="FILE", help="mails as .eml files")
    answers.add_argument("--config", type=Path, metavar="FILE", help="a configuration with [mail], as of `serve`")
    answers.add_argument("--now", metavar="TIME", help="the moment it is written down, as with `report`")
    answers.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    answers.set_defaults(run=read_answers)


def ask_in_writing(arguments: argparse.Namespace) -> int:
    """Ask whoever is to be asked, and write each down as it went out; nothing is asked twice in silence."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    settings = read_mail_settings(arguments.config) if arguments.config else MailSettings()
    if arguments.send and settings.smtp is None:
        raise BadInput([fault("--send", "needs a mail server", "", "--config FILE with [mail.smtp] host, port")])
    link = checked_base(arguments.link)
    situation = situation_asked(arguments, case, now, all_of_it=True)
    means: Literal["mail", "text"] = "text" if arguments.text else "mail"
    found = to_ask(situation, means=means, again=arguments.again)
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


def read_answers(arguments: argparse.Namespace) -> int:
    """Write down what people answered and say what else came; 1 when somebody said no, or an answer does not count."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    settings = read_mail_settings(arguments.config) if arguments.config else MailSettings()
    place = place_for(arguments, case)
    if not place.made:
        raise BadInput([fault("site", "nobody of this job was asked yet", "", "`jointtrench ask` first")])
    entries, planned = plan_in_force(case, place)
    others, bad = 0, False
    with closing(place.open(tell=say_on_the_side)) as journal, _mails(arguments, settings) as mails:
        journal.known_by = BY_MAIL
        for name, raw, done in mails:
            situation = scheduler.today(case, entries, now, planned, state=fold(entries, now))
            found = read_answer(situation, raw, now)
            if found.kind == "other" and not arguments.mail:
                others += 1
                continue
            print(f"{name}: {found.said}")
            bad |= found.kind == "refused"
            if found.event is not None:
                try:
                    entry = write_down(journal, case.site, case.network, found.event, at=now, by=found.person)
                except BadInput as wrong:
                    print("\n".join(f"  It is not written: {f}" for f in wrong.findings))
                    bad = True
                    continue
                entries = (*entries, entry)
                print(f"  Entry {entry.number} is written: {line_of(case, entry)}")
                if found.event.answer == "refused":
                    bad = True
                    print(f"  The plan cannot stay as it is: see `jointtrench replan {arguments.site}`.")
            done()
    if others:
        print(f"{count(others, 'other unread mail')} in the mailbox, left unread.")
    return 1 if bad else 0


@contextmanager
def _mails(arguments: argparse.Namespace, settings: MailSettings) -> Iterator[Iterable[Mail]]:
    """Return mails by name, each with what marks it as read: the files named, else those unread in the mailbox."""
    if arguments.mail:
        yield ((path.name, _content(path), lambda: None) for path in arguments.mail)
    elif settings.imap is not None:
        with mailbox(settings.imap, settings.folder) as box:
            yield ((f"Mail {n}", raw, partial(box.mark_read, n)) for n, raw in box.unread())
    else:
        required = "--mail FILE, or --config FILE with [mail.imap] host, port, user"
        raise BadInput([fault("mail", "there is nothing to read", "", required)])


def _content(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(LARGEST_MAIL + 1)
