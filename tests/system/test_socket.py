"""Who may ask over the Unix socket: the kernel says who is at the other end, whatever they call themselves."""

import json
import os
import socket
import unittest

from plant import Plant, wait_for

NOBODY = 65534


class Socket(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.plant.start_daemon()

    def ask_as(self, account, groups, request):
        """What a process of another account is told, although the socket's mode was loosened."""
        path = self.plant.state / "control.sock"
        for place in (self.plant.dir, self.plant.state):
            place.chmod(0o755)
        path.chmod(0o666)
        reader, writer = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.setgroups(groups)
                os.setgid(account)
                os.setuid(account)
                with socket.socket(socket.AF_UNIX) as connection:
                    connection.settimeout(20)
                    connection.connect(str(path))
                    connection.sendall(json.dumps(request).encode() + b"\n")
                    os.write(writer, connection.makefile("rb").readline())
            finally:
                os._exit(0)
        os.close(writer)
        with os.fdopen(reader, "rb") as answer:
            text = answer.read()
        os.waitpid(child, 0)
        return json.loads(text)

    @unittest.skipUnless(os.geteuid() == 0, "only root can be somebody else")
    def test_an_account_outside_the_group_is_refused_whatever_the_mode_of_the_socket(self):
        refused = self.ask_as(NOBODY, [], {"command": "alarms"})
        self.assertFalse(refused["ok"])
        self.assertIn(f"uid {NOBODY} may not ask", refused["error"])
        self.assertIn(f"uid {NOBODY} is refused", self.plant.daemon.text())
        group = (self.plant.state / "control.sock").stat().st_gid
        self.assertTrue(self.ask_as(NOBODY, [group], {"command": "alarms"})["ok"])

    def test_the_log_says_which_account_acts_by_which_name(self):
        for _ in range(2):
            self.plant.oxherd("silence", "cryo-annexe/low-oxygen", "--by", "R. Okafor", check=False)
        wait_for("the log", lambda: 'acts as "R. Okafor"' in self.plant.daemon.text())
        told = [line for line in self.plant.daemon.text().splitlines() if 'acts as "R. Okafor"' in line]
        self.assertEqual(len(told), 1, told)
        self.assertIn(f"(uid {os.geteuid()})", told[0])


if __name__ == "__main__":
    unittest.main()
