"""A real SMTP server for tests: it takes messages, or answers as it is told."""

import email
import email.policy

from aiosmtpd.controller import Controller


class Server:
    def __init__(self):
        self.taken = []
        self.answer = ""
        self.hang_up = False

    async def handle_DATA(self, server, session, envelope):  # aiosmtpd's name
        if self.hang_up:
            self.taken.append(envelope)  # it has the letter, and the client will never know
            server.transport.abort()
            return ""
        if not self.answer:
            self.taken.append(envelope)
        return self.answer or "250 taken"

    def message(self):
        [envelope] = self.taken
        return email.message_from_bytes(envelope.content, policy=email.policy.default)


class Listener(Controller):
    """Listens on a port that the system chose."""

    def _trigger_server(self):
        self.port = self.server.sockets[0].getsockname()[1]
        super()._trigger_server()
