"""Mail servers on this machine that do what a script says: one action for each connection, then "ok" for all.

Takes a JSON list as its argument, one object for each server, prints their ports line by line, and ends when its standard
input does, or after two minutes. Every raw byte from clients lands in FOLDER/raw, every byte after decryption in FOLDER/clear; letters it accepted lie in
FOLDER/accepted as NNNN.eml with NNNN.json (sender and addresses) beside it, in the order they came.

Actions: "ok"; "greet TEXT", "mail TEXT", "rcpt TEXT", "rcpt TEXT for ADDRESS", "data TEXT", "end TEXT" answer that step with
TEXT; "drop STEP" cuts the connection there (greet, mail, rcpt, data, body, end-lost, end-kept); "stall STEP" says nothing
more (greet, mail, end-kept); "inject" slips replies in before the encryption begins; "no-starttls" does not offer it.
"""
import asyncio, json, logging, os, ssl, sys, warnings
from aiosmtpd.smtp import SMTP, AuthResult

# Clients that hang up are what the tests are about.
warnings.simplefilter("ignore")
logging.disable(logging.CRITICAL)


class Desk:
    """One server's folder and script."""
    def __init__(self, want):
        self.want, self.folder, self.count = want, want["folder"], 0
        self.script = list(want.get("script", []))
        os.makedirs(os.path.join(self.folder, "accepted"), exist_ok=True)

    def next_action(self):
        return self.script.pop(0) if self.script else self.want.get("then", "ok")

    def note(self, name, data):
        with open(os.path.join(self.folder, name), "ab") as file:
            file.write(data)

    def accept(self, envelope):
        self.count += 1
        base = os.path.join(self.folder, "accepted", f"{self.count:04}")
        with open(base + ".eml.part", "wb") as file:
            file.write(envelope.content)
        with open(base + ".json", "w") as file:
            json.dump({"from": envelope.mail_from, "to": envelope.rcpt_tos}, file)
        os.rename(base + ".eml.part", base + ".eml")

    def check_login(self, server, session, envelope, mechanism, login):
        given = {"user": login.login.decode(), "password": login.password.decode()}
        return AuthResult(success=given == self.want["login"], handled=False)


class Steps:
    """What is asked at each step; the answers are the server's, which knows its script."""
    async def handle_MAIL(self, server, session, envelope, address, options):
        return await server.at_mail(envelope, address)

    async def handle_RCPT(self, server, session, envelope, address, options):
        return await server.at_rcpt(envelope, address)

    async def handle_DATA(self, server, session, envelope):
        return await server.at_end(envelope)


class Server(SMTP):
    def __init__(self, desk, action, **more):
        super().__init__(Steps(), **more)
        self.desk = desk
        self.verb, _, self.rest = action.partition(" ")
        self.greeted = False

    def data_received(self, data):
        self.desk.note("clear", data)
        super().data_received(data)

    def is_to(self, what, step):
        return self.verb == what and self.rest == step

    async def maybe(self, step):
        """What the script has for a step: a reply, a cut, a silence, or nothing."""
        if self.is_to("drop", step):
            self.transport.abort()
            await asyncio.sleep(60)
        if self.is_to("stall", step):
            await asyncio.sleep(60)
        return self.rest if self.verb == step else None

    async def push(self, status):
        if not self.greeted:
            self.greeted = True
            own = await self.maybe("greet")
            if own:
                await super().push(own)
                self.transport.close()
                return
        if self.verb == "inject" and status.startswith("220 Ready"):
            status += "\r\n250-injected\r\n250 AUTH PLAIN LOGIN"
        await super().push(status)

    async def at_mail(self, envelope, address):
        own = await self.maybe("mail")
        if own:
            return own
        envelope.mail_from = address
        return "250 OK"

    async def at_rcpt(self, envelope, address):
        text, _, only = self.rest.partition(" for ")
        if self.verb == "rcpt" and only in ("", address):
            return text
        await self.maybe("rcpt")
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def smtp_DATA(self, arg):
        own = await self.maybe("data")
        if own:
            return await self.push(own)
        if self.is_to("drop", "body"):
            await self.push("354 go on")
            await self._reader.readline()
            self.transport.abort()
            await asyncio.sleep(60)
        await super().smtp_DATA(arg)

    async def at_end(self, envelope):
        own = await self.maybe("end")
        if own:
            return own
        await self.maybe("end-lost")
        self.desk.accept(envelope)
        await self.maybe("end-kept")
        return "250 OK"


async def serve(desk):
    want = desk.want
    tls = want.get("tls", "none")
    context = None
    if tls != "none":
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(want["certificate"], want["key"])
    more = {"enable_SMTPUTF8": want.get("utf8", False)}
    if want.get("login"):
        more |= {"authenticator": desk.check_login, "auth_required": True, "auth_require_tls": tls == "starttls"}

    def factory():
        action = desk.next_action()
        offer = {"tls_context": context, "require_starttls": True} if tls == "starttls" and action != "no-starttls" else {}
        return Server(desk, action, **more, **offer)

    loop = asyncio.get_running_loop()
    inner = await loop.create_server(factory, "127.0.0.1", 0, ssl=context if tls == "implicit" else None)
    inside = inner.sockets[0].getsockname()[1]

    async def carry(reader, writer, name):
        try:
            while data := await reader.read(65536):
                if name:
                    desk.note(name, data)
                writer.write(data)
                await writer.drain()
        except OSError:
            pass
        finally:
            writer.close()

    async def both(reader, writer):
        there, back = await asyncio.open_connection("127.0.0.1", inside)
        await asyncio.gather(carry(reader, back, "raw"), carry(there, writer, None))

    outer = await asyncio.start_server(both, "127.0.0.1", want.get("port", 0))
    print(outer.sockets[0].getsockname()[1], flush=True)
    return inner, outer


async def main():
    loop = asyncio.get_running_loop()
    loop.set_exception_handler(lambda *_: None)
    open_servers = [await serve(Desk(want)) for want in json.loads(sys.argv[1])]
    ended = loop.run_in_executor(None, sys.stdin.read)
    await asyncio.wait([ended], timeout=120)
    os._exit(0)


asyncio.run(main())
