"""People are told of alarms, with real receivers on loopback: mail over TLS, webhooks, syslog, CAP."""

import datetime
import hashlib
import hmac
import json
import signal
import unittest

import cap_rules
from people import ROOM, Told
from plant import free_port, wait_for
from receivers import SYSLOG, Silent, SyslogTcp, SyslogUdp, Web


class Notify(Told):
    def test_an_alarm_reaches_everyone_by_every_route_until_somebody_acknowledges(self):
        hook, cap, beats = (self.receiver(w) for w in (Web(self.certificates), Web(), Web()))
        udp, tcp = self.receiver(SyslogUdp()), self.receiver(SyslogTcp())
        port = free_port()
        mail = self.mail_server(port)
        spool = self.plant.dir / "spool"
        spool.mkdir()
        self.start(self.mail_route(port) + self.hook_route(hook.port) + f"""
[route.cap]
kind = "webhook"
url = "http://127.0.0.1:{cap.port}/cap"
body = "cap"
[route.udp]
kind = "syslog"
to = "udp://127.0.0.1:{udp.port}"
[route.tcp]
kind = "syslog"
to = "tcp://127.0.0.1:{tcp.port}"
[route.spool]
kind = "cap-files"
directory = "{spool}"
[contact.records]
route = ["udp", "tcp", "spool", "cap"]
[escalation.critical]
steps = [{{ to = ["okafor", "records"] }}, {{ after = "4 s", to = "finch" }}, {{ after = "8 s", to = "everyone" }}, {{ after = "16 s", to = "everyone" }}]
[watcher]
url = "http://127.0.0.1:{beats.port}/beat"
every = "5 s"
""")
        plant = self.plant
        before = len(mail.all), len(hook.all)
        self.leak()
        alarm = plant.wait_for_alarm(ROOM, "low-oxygen", "unacknowledged")
        is_low = lambda m: "LOW OXYGEN" in m["Subject"]  # noqa: E731
        first_at, first = wait_for("the mail", lambda: mail.find(is_low)[before[0]:])[0]
        self.assertEqual(first["To"].addresses[0].display_name, "Å. Okafor")
        self.assertLessEqual(len(first["Subject"]), 160)
        text = first.get_content()
        for part in ("Leave now. Stay out.", ROOM, " ± ", "Limit:", "Since:", "Message ", "Supplementary monitor."):
            self.assertIn(part, text)
        self.assertIn(alarm["text"].split(":")[0], text)
        self.assertEqual(first["Auto-Submitted"], "auto-generated")

        next_at, message = wait_for("the next person", lambda: self.about(hook))[0]
        self.assertGreater(next_at - first_at, 3.0, "the step of 4 s")
        self.assertLess(next_at - first_at, 8.0)
        path, headers, body = hook.all[before[1]][1]
        signed = hmac.new(b"spruce", headers["Oxherd-Timestamp"].encode() + b"." + body, hashlib.sha256)
        self.assertEqual(headers["Oxherd-Signature"], "sha256=" + signed.hexdigest())
        self.assertEqual(headers["Idempotency-Key"], json.loads(body)["id"])
        self.assertEqual((message["kind"], message["test"], message["to"]["contact"]), ("alarm", False, "finch"))

        for received in (udp, tcp):
            _at, line = wait_for("syslog", lambda: received.find(lambda t: 'alarm="low-oxygen"' in t))[0]
            parsed = SYSLOG.fullmatch(line)
            self.assertTrue(parsed, line)
            self.assertEqual(int(parsed["pri"]), 16 * 8 + 1, "local0, alert")
            self.assertEqual((parsed["app"], parsed["id"]), ("oxherd", "ALARM"))
            self.assertIn("LOW OXYGEN", parsed["text"])
        files = wait_for("the file", lambda: [f for f in spool.glob("*.cap.xml") if "low-oxygen" in f.read_text()])
        self.assertEqual(cap_rules.breaches(files[0].read_text()), [])

        wait_for("the third step", lambda: len(self.about(hook)) >= 2)
        self.acknowledge_all()
        ids = [json.loads(body)["id"] for _at, body in hook.bodies("/alarms")]
        seen = len(beats.all)
        wait_for("the fourth step's time to pass", lambda: len(beats.all) >= seen + 3)
        late = [m for _at, m in self.about(hook) if m["id"] not in ids and m["kind"] == "alarm"]
        self.assertEqual(late, [], "nothing after the acknowledgement")
        counts = [json.loads(body)["evaluations"] for _at, body in beats.bodies("/beat")]
        self.assertEqual(counts, sorted(set(counts)), "the heartbeat counts evaluations")

        for cell in ("cell-a", "cell-b"):
            plant.order(f"no-gas {ROOM}/{cell}")
        about = f"<value>{ROOM}/low-oxygen ".encode()
        ends = lambda: [b.decode() for _at, b in cap.bodies("/cap")  # noqa: E731
                        if b"<urgency>Past" in b and about in b]
        wait_for("the end of the condition", ends)
        self.assertEqual(cap_rules.value(ends()[0], "msgType"), "Update", "it latches until somebody resets it")
        for _at, document in cap.bodies("/cap"):
            self.assertEqual(cap_rules.breaches(document.decode()), [])
        sent = {f"{cap_rules.value(d, 'sender')},{cap_rules.value(d, 'identifier')},{cap_rules.value(d, 'sent')}"
                for _at, d in cap.bodies("/cap")}
        self.assertLessEqual(set(cap_rules.value(ends()[0], "references").split()), sent, "what it updates was sent")
        self.assertNotIn("larch 7", plant.daemon.text())
        self.assertNotIn("spruce", plant.daemon.text())

    def test_a_mail_server_that_hangs_holds_up_nothing_and_no_message_is_lost(self):
        hook = self.receiver(Web(self.certificates))
        silent = self.receiver(Silent())
        self.start(self.mail_route(silent.port, 'timeout = "2 s"\nreport_after = "3 s"') + self.hook_route(hook.port) + """
[escalation.critical]
steps = [{ to = ["okafor", "finch"] }]
""")
        plant = self.plant
        self.leak()
        plant.wait_for_alarm(ROOM, "low-oxygen", "unacknowledged")
        at, message = wait_for("the webhook", lambda: self.about(hook))[0]
        told_after = at - datetime.datetime.fromisoformat(message["sent"]).timestamp()
        self.assertLess(told_after, 3.0, "the mail server's silence held up the webhook")
        wait_for("the relay to drop", lambda: not plant.coil(0), patience=5)
        bodies = lambda: [json.loads(b) for _at, b in hook.bodies("/alarms")]  # noqa: E731
        trouble = wait_for("the report by the other route", lambda: [m for m in bodies() if m["kind"] == "trouble"])[0]
        self.assertIn("route mail", trouble["text"])
        notify = plant.status()["notify"]
        self.assertTrue(any("route mail fails" in t for t in notify["troubles"]), notify)
        self.assertIn("MAY NOT BE TOLD", plant.oxherd("status").stdout)
        self.assertRegex(plant.daemon.text(), r"notify: Messages to okafor by route mail have not got through")

        told = [m["id"] for m in bodies()]
        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        owed = {f"<{row[0]}@larkfield.example>" for row in self.parcels("id", "route = 'mail' AND settled IS NULL")}
        self.assertTrue(owed, "nothing was left to deliver: the test shows nothing")
        silent.close()
        mail = self.mail_server(silent.port)
        plant.start_daemon()
        wait_for("every mail of the run that was killed", lambda: owed <= {m["Message-ID"] for _at, m in mail.all})
        self.assertTrue(mail.find(lambda m: "LOW OXYGEN" in m["Subject"]))
        wait_for("nothing to wait", lambda: plant.status()["notify"]["waiting"] == 0)
        again = [m["id"] for m in bodies()]
        self.assertEqual(len(again), len(set(again)), "what was delivered is not sent twice")
        self.assertEqual(again[:len(told)], told)
        numbers = [m["number"] for m in bodies()]
        self.assertEqual(numbers, sorted(set(numbers)), "numbers go on after the restart")

    def test_a_certificate_for_another_name_is_refused(self):
        hook = self.receiver(Web(self.certificates))
        settings = self.hook_route(hook.port).replace("localhost", "127.0.0.1")
        self.plant.write_config(lambda text: text + settings)
        self.plant.start_daemon()
        wait_for("the refusal", lambda: "127.0.0.1" in self.route("hook")["trouble"])
        self.assertIn("SSL", self.route("hook")["trouble"])
        self.assertEqual(hook.all, [])

    def test_a_route_is_tested_and_a_person_answers(self):
        port = free_port()
        mail = self.mail_server(port)
        self.start(self.mail_route(port))
        plant = self.plant
        done = json.loads(plant.oxherd("notify", "test", "--contact", "okafor", "--json").stdout)
        number = done["tests"][0]["number"]
        _at, message = wait_for("the test", lambda: mail.find(lambda m: m["Subject"].startswith(f"TEST ALARM {number} ")))[0]
        self.assertIn("No danger", message.get_content())
        self.assertIn("waits for an answer", plant.oxherd("notify").stdout)
        refused = plant.oxherd("notify", "answer", number + 1000, "--by", "R. Finch", check=False)
        self.assertEqual(refused.returncode, 4, refused.stderr)
        plant.oxherd("notify", "answer", number, "--by", "Å. Okafor")
        test = json.loads(plant.oxherd("notify", "--json").stdout)["contacts"][0]["tests"][0]
        self.assertEqual((test["number"], test["answered_by"]), (number, "Å. Okafor"))
        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        plant.start_daemon()
        self.assertIn("answered by Å. Okafor", wait_for("the answer to be remembered", lambda: (
            lambda out: out if "answered by" in out else None)(plant.oxherd("notify").stdout)))


class CapRules(unittest.TestCase):
    """The judge itself: each breach of the standard is seen."""
    SOUND = """<alert xmlns="urn:oasis:names:tc:emergency:cap:1.2"><identifier>a-1</identifier><sender>oxherd</sender>
      <sent>2026-03-02T10:00:00-00:00</sent><status>Actual</status><msgType>Alert</msgType><scope>Private</scope>
      <addresses>okafor</addresses><info><category>Safety</category><event>low</event><urgency>Immediate</urgency>
      <severity>Extreme</severity><certainty>Observed</certainty><area><areaDesc>room</areaDesc></area></info></alert>"""

    def test_nothing_is_held_against_a_sound_alert_and_each_breach_is_named(self):
        self.assertEqual(cap_rules.breaches(self.SOUND), [])
        for was, becomes, said in (("-00:00", "Z", "no time"), ("-00:00", "+00:00", "-00:00"), ("Actual", "Real", "status"),
                                   ("Alert<", "Cancel<", "references"), ("<event>low</event>", "", "event"),
                                   ("<addresses>okafor</addresses>", "", "addresses"), ("a-1", "a 1", "identifier"),
                                   ("<category>Safety</category><event>low</event>",
                                    "<event>low</event><category>Safety</category>", "order"),
                                   ("cap:1.2", "cap:1.1", "no alert")):
            with self.subTest(becomes or was):
                self.assertIn(said, " ".join(cap_rules.breaches(self.SOUND.replace(was, becomes))))


if __name__ == "__main__":
    unittest.main()
