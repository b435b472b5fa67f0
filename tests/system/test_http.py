"""The interface for programs: every answer is what /api/openapi.json says, people sign in, other machines get TLS."""

import csv
import gzip
import http.client
import io
import json
import ssl
import subprocess
import unittest

import jsonschema

from plant import BIN, Plant, wait_for

ANNEXE = "cryo-annexe"
PASSWORD = "a long enough password"


# A heater on a loop with a program, and a purge: nothing of them is in the demonstration.
CONTROLLED = """
[room.growth-chamber-1.loop.heat]
holds = "temperature"
output = "chamber-heater"
method = "time-proportioned"
program = { steps = [{ at = "06:00", to = "24 °C" }, { at = "22:00", to = "18 °C", over = "1 h" }] }

[output.chamber-heater]
kind = "actuator"
room = "growth-chamber-1"
duty = "heating"
bus = "plant"
unit = 32
coil = 1
min_off = "0 s"

[room.pear-store-2.loop.oxygen]
holds = "oxygen"
output = "pear-nitrogen"
set_point = "2 %"

[output.pear-nitrogen]
kind = "actuator"
room = "pear-store-2"
duty = "nitrogen-purge"
bus = "stores"
unit = 6
coil = 0
flow = "40 m3/h"
"""


class Answer:
    def __init__(self, response):
        self.status, self.headers = response.status, response.headers
        self.body = response.read()
        if self.headers.get("Content-Encoding") == "gzip":
            self.body = gzip.decompress(self.body)

    @property
    def json(self):
        return json.loads(self.body)


class Http(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.cookie = self.csrf = self.token = None

    def start(self):
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()
        wait_for("the page", lambda: self.plant.port_open(self.plant.http_port))
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in self.plant.status()["rooms"]))

    def ask(self, method, path, body=None, headers=None, connection=None):
        connection = connection or http.client.HTTPConnection("127.0.0.1", self.plant.http_port, timeout=30)
        headers = {"Accept-Encoding": "gzip", **(headers or {})}
        if body is not None:
            headers["Content-Type"] = "application/json"
        if self.cookie:
            headers["Cookie"] = self.cookie
        if self.csrf:
            headers["Oxherd-Csrf"] = self.csrf
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        connection.request(method, path, None if body is None else json.dumps(body), headers)
        answer = Answer(connection.getresponse())
        connection.close()
        return answer

    def make_user(self, name, role, *options):
        done = subprocess.run([BIN / "oxherd", "user", name, "--role", role, *options, "--state-dir", self.plant.state],
                              input=PASSWORD + "\n", capture_output=True, text=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout.strip()

    def sign_in(self, name, password=PASSWORD):
        answer = self.ask("POST", "/api/session", {"name": name, "password": password})
        if answer.status == 200:
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
            self.csrf = answer.json["csrf"]
        return answer

    # OpenAPI 3.1 takes its schemas from JSON Schema 2020-12; the validator is python3-jsonschema.
    def check(self, document, path, answer, method="get"):
        operation = document["paths"][path][method]
        which = operation["responses"].get(str(answer.status), operation["responses"]["default"])
        kind = answer.headers["Content-Type"].split(";")[0]
        schema = which["content"][kind]["schema"]
        jsonschema.Draft202012Validator({**schema, "components": document["components"]}).validate(answer.json)

    def test_every_answer_is_what_the_description_says(self):
        self.start()
        document = self.ask("GET", "/api/openapi.json").json
        for schema in document["components"]["schemas"].values():
            jsonschema.Draft202012Validator.check_schema(schema)
        period = "?from=2020-01-01T00:00:00Z&to=2100-01-01T00:00:00Z&limit=50"
        asked = {"/api/site": "", "/api/alarms": "", "/api/calibrations": "", "/api/notify": "", "/api/session": "",
                 "/api/history/alarms": period, "/api/history/readings": period, "/api/alarm-report": period[:-9],
                 "/api/trend": period[:-9] + "&room=cryo-annexe&sensor=cell-a&quantity=dry_fraction",
                 "/api/explain": "?room=cryo-annexe&sensor=cell-a", "/api/rooms/{room}": "", "/api/rooms/{room}/sensors/{sensor}/recorded": "", "/api/certificates/{number}": ""}
        wait_for("recorded readings", lambda: self.ask("GET", "/api/history/readings" + period).json["readings"])
        wait_for("a recorded oxygen", lambda: self.ask("GET", f"/api/rooms/{ANNEXE}/sensors/cell-a/recorded").status == 200)
        for path, query in asked.items():
            with self.subTest(path):
                concrete = path.replace("{room}", ANNEXE).replace("{sensor}", "cell-a").replace("{number}", "7")
                answer = self.ask("GET", concrete + query)
                self.check(document, path, answer)
                if path not in ("/api/notify", "/api/certificates/{number}"):  # nobody is told here, nor calibrates
                    self.assertEqual(answer.status, 200, answer.body)
        for room in self.ask("GET", "/api/site").json["rooms"]:
            self.assertEqual(self.ask("GET", "/api/rooms/" + room["room"]).status, 200)
        # What is not there, or wrongly asked, is a problem in the form of RFC 9457.
        for path, status in (("/api/nothing", 404), ("/api/history/alarms", 400), ("/api/rooms/no-such", 404),
                             ("/api/history/alarms" + period.replace("50", "0"), 400)):
            answer = self.ask("GET", path)
            self.assertEqual(answer.status, status, path)
            self.assertEqual(answer.headers["Content-Type"], "application/problem+json")
            self.assertTrue(answer.json["detail"])
        described = {path for path in document["paths"] if "get" in document["paths"][path]}
        self.assertEqual(described - set(asked), {"/api/stream"}, "each GET that is described is asked here")

    def test_history_comes_as_csv_and_as_lines_too(self):
        self.start()
        path = "/api/history/readings?from=2020-01-01T00:00:00Z&to=2100-01-01T00:00:00Z&limit=20"
        wait_for("more than twenty readings", lambda: self.ask("GET", path).json["truncated"])
        whole = self.ask("GET", path).json["readings"]
        table = self.ask("GET", path + "&format=csv")
        rows = list(csv.DictReader(io.StringIO(table.body.decode(), newline="")))
        self.assertEqual([r["at"] for r in rows], [r["at"] for r in whole])
        self.assertEqual(list(rows[0]), list(whole[0]))
        self.assertEqual(table.headers["Oxherd-Truncated"], "true")
        lines = self.ask("GET", path, headers={"Accept": "application/x-ndjson"})
        self.assertEqual([json.loads(line) for line in lines.body.decode().splitlines()], whole)

    def test_what_has_not_changed_is_not_sent_again(self):
        self.start()
        first = self.ask("GET", "/api/openapi.json")
        again = self.ask("GET", "/api/openapi.json", headers={"If-None-Match": first.headers["ETag"]})
        self.assertEqual((again.status, again.body), (304, b""))

    def test_metrics_are_taken_by_a_collector(self):
        self.start()
        text = self.ask("GET", "/metrics").body
        checked = subprocess.run(["promtool", "check", "metrics"], input=text, capture_output=True, timeout=60)
        self.assertEqual((checked.returncode, checked.stdout, checked.stderr), (0, b"", b""))
        self.assertIn(f'oxherd_room_monitored{{room="{ANNEXE}"}} 1', text.decode())
        open_form = self.ask("GET", "/metrics", headers={"Accept": "application/openmetrics-text; version=1.0.0"})
        self.assertTrue(open_form.body.endswith(b"# EOF\n"))
        self.assertIn("application/openmetrics-text", open_form.headers["Content-Type"])

    def test_people_sign_in_and_the_journal_names_them(self):
        self.start()
        act = f"/api/rooms/{ANNEXE}/alarms/low-oxygen/test"
        self.assertEqual(self.ask("POST", act, {"duration_s": 60}).status, 401)
        self.assertEqual(self.ask("POST", "/api/calibrate", {"step": 1}).status, 401)
        self.make_user("R. Okafor", "operator")
        self.assertEqual(self.sign_in("R. Okafor", "another password").status, 401)
        self.assertEqual(self.sign_in("R. Okafor").status, 200)
        done = self.ask("POST", act, {"duration_s": 60, "comment": "monthly"})
        self.assertEqual(done.status, 200, done.body)
        document = self.ask("GET", "/api/openapi.json").json
        self.check(document, "/api/rooms/{room}/alarms/{alarm}/{act}", done, "post")
        journal = json.loads(self.plant.oxherd("history", "alarms", "--last", "1h", "--json").stdout)["alarms"]
        line = [r for r in journal if r["event"] == "test"][-1]
        self.assertEqual((line["author"], line["comment"]), ("R. Okafor", "monthly"))
        refused = self.ask("POST", f"/api/rooms/{ANNEXE}/alarms/low-oxygen/shelve", {"duration_s": 60, "comment": "x"})
        self.assertEqual(refused.status, 409)
        self.assertIn("a safety alarm cannot be shelved", refused.json["detail"])
        out = f"/api/rooms/{ANNEXE}/alarms/low-oxygen/remove_from_service"
        self.assertEqual(self.ask("POST", out, {"duration_s": 60, "comment": "x"}).status, 403)
        self.make_user("R. Okafor", "engineer")  # the role alone: the session goes on
        self.assertEqual(self.ask("POST", out, {"duration_s": 60, "comment": "cell C"}).status, 200)
        self.make_user("R. Okafor", "engineer", "--password")
        self.assertEqual(self.ask("POST", act, {}).status, 401, "a new password ends what was opened with the old one")
        self.assertEqual(self.sign_in("R. Okafor").status, 200)
        events = ["user-made", "sign-in-refused", "signed-in", "role-changed", "password-set", "signed-in"]
        wait_for("the journal to name who could sign in and who did", lambda: self.of_users() == events)
        self.assertEqual(self.plant.daemon.end(), 0)
        self.plant.start_daemon()
        self.cookie = self.csrf = None
        wait_for("the page", lambda: self.plant.port_open(self.plant.http_port))
        self.make_user("mira", "viewer")
        wait_for("what is new alone to be journaled", lambda: self.of_users() == [*events, "user-made"])

    def test_actuators_are_told_and_ordered_as_described(self):
        self.plant.write_config(lambda text: text + CONTROLLED)
        self.start()
        document = self.ask("GET", "/api/openapi.json").json
        for room, output in (("growth-chamber-1", "chamber-heater"), ("pear-store-2", "pear-nitrogen")):
            told = self.ask("GET", f"/api/rooms/{room}")
            self.check(document, "/api/rooms/{room}", told)
            self.assertEqual([one["output"] for one in told.json["control"]], [output])
        by_output, by_loop = "/api/outputs/{output}/order", "/api/rooms/{room}/loops/{loop}/order"
        heater, heat = "/api/outputs/chamber-heater/order", "/api/rooms/growth-chamber-1/loops/heat/order"
        nitrogen = "/api/outputs/pear-nitrogen/order"
        hold = {"act": "hold", "fraction": 1, "duration_s": 600, "comment": "drying the floor"}
        self.assertEqual(self.ask("POST", heater, hold).status, 401)
        self.make_user("R. Okafor", "operator")
        self.assertEqual(self.sign_in("R. Okafor").status, 200)
        done = self.ask("POST", heater, hold)
        self.assertEqual(done.status, 200, done.body)
        self.check(document, by_output, done, "post")
        held = done.json["control"][0]
        self.assertEqual((done.json["room"], held["fraction"], held["decided_by"]), ("growth-chamber-1", 1, "person"))
        for one in (held, self.ask("GET", "/api/rooms/growth-chamber-1").json["control"][0]):
            self.assertEqual((one["held"]["by"], one["held"]["because"]), ("R. Okafor", "drying the floor"))
        program = self.ask("POST", heat, {"act": "program-hold", "duration_s": 600, "comment": "trial"})
        self.assertEqual(program.status, 200, program.body)
        self.check(document, by_loop, program, "post")
        self.assertEqual(program.json["control"][0]["loop"]["program"], "held")
        self.look_into_tuning_and_report(document, heater, heat)
        # Refused: by the rules of control, by the form of the order, by the role, and what is not there.
        start = {"act": "start", "comment": "pull-down"}
        self.assertEqual(self.ask("POST", nitrogen, start).status, 403)
        self.make_user("R. Okafor", "engineer")
        for target, path, order, status, words in (
                (nitrogen, by_output, start, 409, "the nitrogen purge cannot be started: "),
                (nitrogen, by_output, {"act": "release", "comment": "x"}, 409, "has not tripped"),
                (heater, by_output, {**hold, "comment": ""}, 409, "say why it is worked by hand"),
                (heater, by_output, {**hold, "fraction": 100}, 400, "from 0 to 1"),
                (heater, by_output, {"act": "open"}, 400, "is nothing that can be ordered"),
                (heat, by_loop, {"act": "program-stop"}, 409, "no program for which that can be done now"),
                (heat.replace("heat/", "cold/"), by_loop, {"act": "program-hold"}, 404, "there is no loop"),
                ("/api/outputs/no-such/order", by_output, {"act": "end"}, 404, "there is no actuator no-such")):
            with self.subTest(target, **order):
                refused = self.ask("POST", target, order)
                self.check(document, path, refused, "post")
                self.assertEqual(refused.status, status, refused.body)
                self.assertIn(words, refused.json["detail"])
        journal = json.loads(self.plant.oxherd("history", "alarms", "--last", "1h", "--json").stdout)["alarms"]
        line = [r for r in journal if r["event"] == "hold"][-1]
        self.assertEqual((line["author"], line["comment"]), ("R. Okafor", "drying the floor"))

    def look_into_tuning_and_report(self, document, heater, heat):
        """Over limits that no weather of the simulated room reaches."""
        by_loop = "/api/rooms/{room}/loops/{loop}/order"
        tune = {"act": "tune", "low": "1 °C", "high": "50 °C", "comment": "new heater"}
        refused = self.ask("POST", heat, tune)
        self.check(document, by_loop, refused, "post")
        self.assertEqual(refused.status, 409, refused.body)
        self.assertIn("a person decides what the heating does", refused.json["detail"])
        self.assertEqual(self.ask("POST", heater, {"act": "automatic"}).status, 200)
        for change, words in (({"low": "1"}, "low: "), ({"high": None}, "say between which values"),
                              ({"comment": ""}, "say why it is tuned")):
            with self.subTest(**change):
                self.assertIn(words, self.ask("POST", heat, {**tune, **change}).json["detail"])
        tuned = self.ask("POST", heat, tune)
        self.assertEqual(tuned.status, 200, tuned.body)
        self.check(document, by_loop, tuned, "post")
        tuning = tuned.json["control"][0]["loop"]["tuning"]
        self.assertEqual((tuning["running"], tuning["by"], tuning["swings"]), (True, "R. Okafor", 0))
        self.assertIn("is running: end it first", self.ask("POST", heat, tune).json["detail"])
        over = self.ask("POST", heat, {"act": "end-tuning"})
        self.check(document, by_loop, over, "post")
        tuning = over.json["control"][0]["loop"]["tuning"]
        self.assertEqual((tuning["running"], tuning["outcome"]), (False, "R. Okafor ended it"))
        begun = self.ask("POST", heat, {"act": "begin-report"})
        self.check(document, by_loop, begun, "post")
        self.assertEqual(begun.json["control"][0]["loop"]["report"]["by"], "R. Okafor")
        self.assertEqual(self.ask("POST", heater, {"act": "hold", "fraction": 1, "duration_s": 600,
                                                   "comment": "drying the floor"}).status, 200)

    def of_users(self):
        journal = json.loads(self.plant.oxherd("history", "alarms", "--last", "1h", "--json").stdout)["alarms"]
        return [line["event"] for line in journal if line["alarm"].split("/")[0] in ("user", "sign-in")]

    def test_a_long_history_is_read_page_by_page(self):
        self.start()
        target = "/api/history/readings?from=2020-01-01T00:00:00Z&to=2100-01-01T00:00:00Z&room=cryo-annexe&limit=7"
        wait_for("enough readings", lambda: len(self.ask("GET", target.replace("=7", "=20")).json["readings"]) == 20)
        first = self.ask("GET", target)
        document = self.ask("GET", "/api/openapi.json").json
        self.check(document, "/api/history/readings", first)
        link = first.headers["Link"]
        self.assertTrue(link.startswith("</api/history/readings?") and link.endswith('>; rel="next"'), link)
        older = self.ask("GET", link[1:link.index(">")])
        whole = self.ask("GET", target.replace("limit=7", "limit=100000")).json["readings"]
        both = older.json["readings"] + first.json["readings"]
        self.assertEqual(len(both), 14)
        at = whole.index(both[0])
        self.assertEqual(whole[at:at + 14], both, "what was recorded meanwhile moves no page")

    def test_the_stream_tells_of_an_alarm_at_once(self):
        self.start()
        self.token = self.make_user("wall", "operator", "--token")
        listener = http.client.HTTPConnection("127.0.0.1", self.plant.http_port, timeout=30)
        listener.request("GET", "/api/stream", headers={"Authorization": f"Bearer {self.token}"})
        stream = listener.getresponse()
        self.addCleanup(listener.close)
        events = {}

        def read_until(name, wanted=lambda data: True):
            kind = None
            while True:
                line = stream.readline().decode().rstrip("\n")
                if line.startswith("event: "):
                    kind = line[7:]
                if line.startswith("data: "):
                    events.setdefault(kind, []).append(json.loads(line[6:]))
                    if kind == name and wanted(events[kind][-1]):
                        return events[kind][-1]

        read_until("beat")
        self.assertEqual(len({r["room"] for r in events["room"]}), 4)
        self.assertEqual(events["hello"][0]["site"], "larkfield")
        read_until("reading", lambda r: r["sensor"] == "cell-a" and r["dry_fraction"] > 0.2)
        self.plant.order("gas cryo-annexe/cell-a 17")
        self.plant.order("gas cryo-annexe/cell-b 17")
        told = read_until("alarm", lambda a: a["alarm"] == "low-oxygen" and a["state"] == "unacknowledged")
        self.assertIn("LOW OXYGEN", told["text"])

    @staticmethod
    def make_certificate(certificate, key, days):
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
                        "-keyout", key, "-out", certificate, "-days", str(days), "-subj",
                        "/CN=annexe.larkfield.example", "-addext", "subjectAltName=IP:127.0.0.1"],
                       check=True, capture_output=True)

    def test_other_machines_are_served_by_tls_alone(self):
        plant = self.plant
        certificate, key = plant.dir / "page.pem", plant.dir / "page.key"
        self.make_certificate(certificate, key, 2)
        plain = plant.config.read_text()
        plant.config.write_text(plain.replace(f'listen = "127.0.0.1:{plant.http_port}"', f'listen = "0.0.0.0:{plant.http_port}"'))
        refused = subprocess.run([BIN / "oxherd", "check", "--config", plant.config], capture_output=True, text=True,
                                 timeout=60)
        self.assertEqual(refused.returncode, 1)
        self.assertIn("other machines are served by TLS only", refused.stdout + refused.stderr)
        plant.config.write_text(plain + f'certificate_file = "{certificate}"\nkey_file = "{key}"\n')
        self.start()
        trust = ssl.create_default_context(cafile=certificate)
        secure = http.client.HTTPSConnection("127.0.0.1", plant.http_port, timeout=30, context=trust)
        self.assertEqual(self.ask("GET", "/healthz", connection=secure).body, b"running\n")
        self.make_user("mira", "viewer")
        secure = http.client.HTTPSConnection("127.0.0.1", plant.http_port, timeout=30, context=trust)
        answer = self.ask("POST", "/api/session", {"name": "mira", "password": PASSWORD}, connection=secure)
        self.assertIn("; Secure", answer.headers["Set-Cookie"])
        for version in (ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1):
            old = ssl.create_default_context(cafile=certificate)
            old.minimum_version = ssl.TLSVersion.TLSv1
            old.maximum_version = version
            old.set_ciphers("DEFAULT@SECLEVEL=0")
            with self.assertRaises(ssl.SSLError):
                self.ask("GET", "/healthz", connection=http.client.HTTPSConnection(
                    "127.0.0.1", plant.http_port, timeout=30, context=old))
        self.renew(certificate, key)

    # The certificate of a site is renewed every few weeks: no restart, and no minute without a page.
    def renew(self, certificate, key):
        def served():
            return ssl.get_server_certificate(("127.0.0.1", self.plant.http_port), timeout=30)

        before, until = certificate.read_text(), self.plant.status()["http"]["certificate_until"]
        self.assertEqual(served(), before)
        certificate.write_text("no certificate")
        self.assertEqual(served(), before, "a renewal that went wrong ends nothing")
        self.make_certificate(certificate, key, 30)
        self.assertEqual(served(), certificate.read_text())
        self.assertGreater(self.plant.status()["http"]["certificate_until"], until)


if __name__ == "__main__":
    unittest.main()
