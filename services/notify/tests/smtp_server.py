"""A mail server of the test's own: aiosmtpd on a free loopback port.

Prints one JSON object a line: first {"port": n}, then {"event": "connect"} for each connection and one with
"event": "message" for each message that it takes. Its one argument is a JSON object:

answers  what to do at each connection in turn, the last one for ever: "ok", "hang" (say nothing at all), "silent" (take the message
         and never say so), "close" (end the talk at MAIL), or a reply to the message such as "451 4.3.0 later"
refuse   addresses to refuse, with the reply to each
login    [user, password] that must be used
tls      [certificate, key], files; "starttls" or "wrapped" in `how` says when
"""

import asyncio
import email
import email.policy
import json
import logging
import ssl
import sys
import warnings

from aiosmtpd.smtp import SMTP, AuthResult

# Refused certificates and logins in the clear are what some tests are about.
logging.getLogger("mail.log").setLevel(logging.CRITICAL)
warnings.simplefilter("ignore")

settings = json.loads(sys.argv[1])
answers = settings.get("answers", ["ok"])


def tell(**what):
    print(json.dumps(what), flush=True)


def part_of(part):
    content = part.get_content()
    text = content if isinstance(content, str) else content.decode()
    return dict(type=part.get_content_type(), id=part["Content-ID"], name=part.get_filename(), text=text.replace("\r\n", "\n"))


class Handler:
    def __init__(self, answer):
        self.answer = answer

    async def handle_MAIL(self, server, session, envelope, address, options):
        if self.answer == "close":
            server.transport.abort()
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(self, server, session, envelope, address, options):
        refused = settings.get("refuse", {}).get(address)
        if refused is None:
            envelope.rcpt_tos.append(address)
        return refused or "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if self.answer not in ("ok", "silent"):
            return self.answer
        letter = email.message_from_bytes(envelope.content, policy=email.policy.default)
        plain = letter.get_body(preferencelist=("plain",))
        tell(
            event="message",
            sender=envelope.mail_from,
            to=envelope.rcpt_tos,
            hello=session.host_name,
            encrypted=server.transport.get_extra_info("sslcontext") is not None,
            login=session.authenticated,
            headers=[[name, str(value)] for name, value in letter.items()],
            text=plain.get_content().replace("\r\n", "\n"),
            parts=[part_of(part) for part in letter.walk() if letter.is_multipart() and not part.is_multipart()],
            defects=[str(d) for part in letter.walk() for d in part.defects]
            + [str(d) for part in letter.walk() for h in part.values() for d in h.defects],
        )
        if self.answer == "silent":
            await asyncio.Event().wait()
        return "250 OK"


class Silent(asyncio.Protocol):
    def connection_made(self, transport):
        tell(event="connect")
        self.transport = transport


class Server(SMTP):
    def connection_made(self, transport):
        if not isinstance(transport, asyncio.sslproto._SSLProtocolTransport):
            tell(event="connect")
        super().connection_made(transport)


def authenticate(server, session, envelope, mechanism, data):
    user, password = settings["login"]
    right = data.login == user.encode() and data.password == password.encode()
    # Without handled=False a refusal is never answered.
    return AuthResult(success=right, handled=right)


def protocol(context):
    answer = answers.pop(0) if len(answers) > 1 else answers[0]
    if answer == "hang":
        return Silent()
    starttls = context if settings.get("how") == "starttls" else None
    login = "login" in settings
    return Server(
        Handler(answer),
        hostname="mail.test",
        tls_context=starttls,
        require_starttls=starttls is not None,
        authenticator=authenticate if login else None,
        auth_required=login,
        auth_require_tls=context is not None,
    )


async def main():
    context = None
    if "tls" in settings:
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        context.load_cert_chain(*settings["tls"])
    wrapped = context if settings.get("how") == "wrapped" else None
    loop = asyncio.get_running_loop()
    server = await loop.create_server(lambda: protocol(context), "127.0.0.1", 0, ssl=wrapped)
    tell(port=server.sockets[0].getsockname()[1])
    await server.serve_forever()


asyncio.run(main())
