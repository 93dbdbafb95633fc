"""One letter over SMTP, step by step (RFC 5321), so that it is known how far it came when something breaks."""

from __future__ import annotations

import smtplib
from contextlib import suppress
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import formatdate, parseaddr

from django.conf import settings
from django.core.mail.backends.smtp import EmailBackend
from django.core.mail.message import sanitize_address

# Letters of seven bits, which any server takes. (The framework's own message began a long subject with an empty line.)
SEVEN_BITS = SMTP.clone(cte_type="7bit")


class Away(Exception):
    """The mail server cannot be reached or turns us away: nothing was handed over, try all of it later."""


class NotNow(Exception):
    """The server asks to try this letter again later (a 4xx answer)."""


class Refusal(Exception):
    """The server will not take this letter for this address (a 5xx answer)."""


class Unsure(Exception):
    """The connection broke while the letter was handed over: it may have arrived."""


class Server:
    """A connection that is opened with the first letter. `send` raises one of the four above."""

    def __init__(self) -> None:
        self.backend = EmailBackend(fail_silently=False)

    def send(
        self,
        address: str,
        subject: str,
        words: str,
        *,
        name: str,
        paper: tuple[str, bytes] | None = None,
        answers_to: str = "",
    ) -> None:
        """`name` makes the letter's Message-ID, the same each time this letter is tried with that name; `paper` is the
        name and content of a PDF that goes with it; answers go to `answers_to`, or to the site."""
        smtp = self.reach()
        sender = settings.DEFAULT_FROM_EMAIL
        domain = parseaddr(sender)[1].rpartition("@")[2] or "localhost"
        letter = EmailMessage(SEVEN_BITS)
        try:
            source, target = sanitize_address(sender, "utf-8"), sanitize_address(address, "utf-8")
            letter["From"], letter["To"], letter["Subject"] = source, target, subject
            if answers_to:
                letter["Reply-To"] = sanitize_address(answers_to, "utf-8")
        except ValueError as trouble:
            raise Refusal(f"It is no address: {trouble}") from trouble
        letter["Message-ID"], letter["Date"] = f"<{name}@{domain}>", formatdate()
        letter["Auto-Submitted"] = "auto-generated"
        letter.set_content(words)
        if paper is not None:
            file, content = paper
            letter.add_attachment(content, maintype="application", subtype="pdf", filename=file)
        body = letter.as_bytes()
        try:
            smtp.ehlo_or_helo_if_needed()
            self._answered(smtp.mail(source), who_is_meant="sender")
            self._answered(smtp.rcpt(target), who_is_meant="address")
        except (OSError, smtplib.SMTPException) as trouble:
            raise Away(_words(trouble)) from trouble
        try:
            answer = smtp.data(body)
        except smtplib.SMTPDataError as trouble:
            # It was asked whether the letter may come, and said no: nothing was handed over.
            answer = (trouble.smtp_code, trouble.smtp_error)  # type: ignore[assignment]
        except (OSError, smtplib.SMTPException) as trouble:
            raise Unsure(_words(trouble)) from trouble
        self._answered(answer, who_is_meant="address")

    def close(self) -> None:
        """How the server takes leave changes nothing of what was handed over."""
        with suppress(OSError, smtplib.SMTPException):
            self.backend.close()

    def reach(self) -> smtplib.SMTP:
        """The connection, signed in. Raises Away."""
        try:
            self.backend.open()
        except (OSError, smtplib.SMTPException) as trouble:
            raise Away(_words(trouble)) from trouble
        return self.backend.connection  # type: ignore[return-value]

    def _answered(self, answer: tuple[int, bytes | str], *, who_is_meant: str) -> None:
        code, said = answer
        if code // 100 == 2:
            return
        words = f"{code} {said.decode('utf-8', 'replace') if isinstance(said, bytes) else said}"
        try:
            self.backend.connection.rset()  # type: ignore[union-attr]
        except (OSError, smtplib.SMTPException):
            self.close()
        if who_is_meant == "sender" or code == 421:
            raise Away(words)
        raise Refusal(words) if code >= 500 else NotNow(words)


def _words(trouble: Exception) -> str:
    return f"{type(trouble).__name__}: {trouble}"
