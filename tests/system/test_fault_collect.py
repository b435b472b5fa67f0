"""What goes wrong around the historian: nothing that the broker took is lost, it is told once and loudly, and it goes on by
itself."""

import os
import shutil
import subprocess
import unittest
import urllib.request

from historian import HistorianTest, pack
from plant import PATIENCE, Plant, Process, wait_for
from receivers import Certificates

TOPIC = "oxherd/larkfield/cryo-annexe/cell-a"
REFUSED = "the database does not take what comes"
needs_root = unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")


def metric(text, name):
    return next((float(line.rsplit(" ", 1)[1]) for line in text.splitlines() if line.startswith(name + " ")), None)


class CollectFaults(HistorianTest):
    def database_on_small_disk(self, megabytes):
        """Its tables only: a server that cannot write its log ends, which is another fault."""
        small = self.dir / "small"
        small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", small], check=True)

        def unmount():
            self.database.end()
            subprocess.run(["umount", small], check=True)
        self.addCleanup(unmount)
        space = small / "tables"
        space.mkdir()
        shutil.chown(space, self.database.user)
        self.database.query(f"CREATE TABLESPACE small LOCATION '{space}'", "postgres")
        self.database.query("DROP DATABASE oxherd", "postgres")
        self.database.query("CREATE DATABASE oxherd TABLESPACE small", "postgres")
        return small

    def told(self):
        return self.collector.text().count(REFUSED)

    @needs_root
    def test_a_full_disk_of_the_database(self):
        small = self.database_on_small_disk(40)
        self.start_collector()
        client = self.publisher()
        self.publish(client, TOPIC, pack("larkfield", "cell-a", 0, 10))
        self.wait_for_samples(30)
        self.assertEqual(self.health(), (200, "running\n"))
        ballast = Plant.fill_disk(small)
        for number in range(1, 41):
            self.publish(client, TOPIC, pack("larkfield", "cell-a", number * 60, 60))
        self.collector.wait_for_text(f"{REFUSED}.*No space left on device")
        code, words = self.health()
        self.assertEqual((code, words), (503, "the database does not take what comes; nothing of it is acknowledged to the broker\n"))
        self.assertIn("No space left on device", self.ask("site")[1]["store"]["trouble"])
        self.wait_for_tries_of_another_file()
        self.assertEqual(self.told(), 1, self.collector.text())
        before = self.samples()

        self.collector.kill()  # what it held in memory must not have been acknowledged
        self.collector.child.wait()
        self.start_collector(ready=False)
        self.collector.wait_for_text(f"{REFUSED}.*No space left on device")
        self.assertEqual(self.samples(), before)
        ballast.unlink()
        self.collector.wait_for_text("the database takes what comes again")
        self.wait_for_samples(30 + 40 * 180)
        wait_for("healthz to be well", lambda: self.health() == (200, "running\n"))
        self.assertEqual(self.told(), 1, self.collector.text())

    def wait_for_tries_of_another_file(self):
        """Each try has a table of its own for what comes, and so another file that does not fit."""
        first = self.ask("site")[1]["store"]["trouble"]
        wait_for("another file's name", lambda: self.ask("site")[1]["store"]["trouble"] != first)

    def test_a_database_that_refuses_for_a_while(self):
        self.start_collector()
        client = self.publisher()
        self.publish(client, TOPIC, pack("larkfield", "cell-a", 0, 10))
        self.wait_for_samples(30)
        self.database.query("CREATE SEQUENCE tries")  # which no rollback sets back
        self.database.query("CREATE FUNCTION refuse() RETURNS trigger AS $$ BEGIN PERFORM nextval('tries'); "
                            "RAISE EXCEPTION 'the quota is used up'; END $$ LANGUAGE plpgsql")
        self.database.query("CREATE TRIGGER quota BEFORE INSERT ON sample FOR EACH ROW EXECUTE FUNCTION refuse()")
        for number in range(1, 11):
            self.publish(client, TOPIC, pack("larkfield", "cell-a", number * 60, 60))
        self.collector.wait_for_text(f"{REFUSED}.*the quota is used up")
        wait_for("more tries", lambda: self.database.number("SELECT last_value FROM tries") >= 4)
        self.assertEqual((self.told(), self.samples()), (1, 30), self.collector.text())
        self.assertEqual(self.health()[0], 503)
        self.database.query("DROP TRIGGER quota ON sample")
        self.collector.wait_for_text("the database takes what comes again")
        self.wait_for_samples(30 + 10 * 180)
        self.assertEqual(self.told(), 1)
        self.assertEqual(self.ask("site")[1]["collect"]["malformed"], 0, "nothing was given up")

    def test_a_database_that_is_gone_is_missed_though_nothing_comes(self):
        self.start_collector()
        wait_for("healthz to be well", lambda: self.health() == (200, "running\n"))
        self.database.kill()
        self.collector.wait_for_text(REFUSED)
        self.assertEqual(self.health()[0], 503)
        self.database.start()
        self.collector.wait_for_text("the database takes what comes again")
        self.assertEqual(self.health(), (200, "running\n"))

    def test_a_database_that_hangs_is_told_by_healthz(self):
        self.start_collector()
        client = self.publisher()
        self.publish(client, TOPIC, pack("larkfield", "cell-a", 0, 10))
        self.wait_for_samples(30)
        holder = Process("holder", [self.database.programs / "psql", "-X", "-h", self.database.dir, "-U", "oxherd", "-d", "oxherd",
                                    "-c", "LOCK TABLE sample IN EXCLUSIVE MODE; SELECT pg_sleep(600)"], self.dir / "holder.log")
        self.addCleanup(holder.end)
        wait_for("the lock", lambda: self.database.number(
            "SELECT count(*) FROM pg_locks WHERE relation = 'sample'::regclass AND mode = 'ExclusiveLock' AND granted") == 1)
        self.publish(client, TOPIC, pack("larkfield", "cell-a", 10, 10))
        code, words = wait_for("healthz to miss it", lambda: (lambda h: h if h[0] != 200 else None)(self.health()))
        self.assertEqual(code, 503)
        self.assertRegex(words, r"^the database has confirmed nothing for 3\d s\n$")
        self.database.query("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE query LIKE 'LOCK TABLE%'")
        self.wait_for_samples(60)
        wait_for("healthz to be well", lambda: self.health() == (200, "running\n"))

    def test_healthz_misses_the_broker_and_metrics_count_what_came(self):
        self.start_collector()
        self.publish(self.publisher(), TOPIC, pack("larkfield", "cell-a", 0, 10))
        self.wait_for_samples(30)
        metrics = self.metrics()
        self.assertEqual(metric(metrics, 'oxherd_collect_samples_total{outcome="stored"}'), 30)
        self.assertEqual(metric(metrics, "oxherd_collect_messages_total"), 1)
        self.assertEqual(metric(metrics, "oxherd_broker_connected"), 1)
        self.assertEqual(metric(metrics, "oxherd_store_writing"), 1)
        self.assertLess(metric(metrics, "oxherd_collect_commit_age_seconds"), 30)
        self.broker.end()
        wait_for("healthz to miss it", lambda: self.health() == (503, "the broker is not connected, so nothing comes\n"))
        self.assertEqual(metric(self.metrics(), "oxherd_broker_connected"), 0)
        self.start_broker()
        wait_for("healthz to be well", lambda: self.health() == (200, "running\n"))

    def metrics(self):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.http_port}/metrics", timeout=PATIENCE) as answer:
            return answer.read().decode()

    def with_tls(self):
        certificates = Certificates(self.dir)
        self.broker.end()

        def start(certificate):
            self.start_broker(f"certfile {certificate}\nkeyfile {certificates.key}")
        return certificates, start

    def publish_by_tls(self, certificates):
        payload = pack("larkfield", "cell-a", 0, 1)
        subprocess.run(["mosquitto_pub", "-h", "localhost", "-p", str(self.mqtt_port), "--cafile", certificates.ca, "-q", "1",
                        "-t", TOPIC, "-m", payload], check=True, timeout=PATIENCE)

    def refusal_of_broker(self, words):
        """Told once, in words, in the log and on the page."""
        for said in (f"nothing comes from the broker mqtts://.*{words}", "the page is at", "the database takes what comes"):
            self.collector.wait_for_text(said)
        site = self.ask("site")[1]
        self.assertFalse(site["mqtt"]["connected"])
        self.assertRegex(site["mqtt"]["trouble"], words)
        self.assertEqual(self.health(), (503, "the broker is not connected, so nothing comes\n"))

    def test_an_expired_certificate_of_the_broker(self):
        certificates, start = self.with_tls()
        self.write_config(f'broker = "mqtts://localhost:{self.mqtt_port}"\nca_file = "{certificates.ca}"')
        start(certificates.expired)
        self.start_collector(ready=False)
        self.refusal_of_broker("expired.*renew")
        log = self.dir / "broker.log"
        tries = log.read_text().count("New connection")
        wait_for("more tries", lambda: log.read_text().count("New connection") >= tries + 4)
        self.assertEqual(self.collector.text().count("nothing comes from the broker"), 1, self.collector.text())
        self.broker.end()
        start(certificates.certificate)  # renewed
        self.collector.wait_for_text("reading from the broker")
        self.publish_by_tls(certificates)
        self.wait_for_samples(3)

    def test_a_broker_of_another_authority_or_name(self):
        certificates, start = self.with_tls()
        (self.dir / "others").mkdir()
        stranger = Certificates(self.dir / "others")
        start(certificates.certificate)
        for name, ca, words in (("localhost", stranger.ca, "ca_file"), ("127.0.0.1", certificates.ca, "name")):
            with self.subTest(name):
                self.write_config(f'broker = "mqtts://{name}:{self.mqtt_port}"\nca_file = "{ca}"')
                self.start_collector(ready=False)
                try:
                    self.refusal_of_broker(words)
                finally:
                    self.assertEqual(self.collector.end(), 0)
        self.write_config(f'broker = "mqtts://localhost:{self.mqtt_port}"\nca_file = "{certificates.ca}"')
        self.start_collector()
        self.publish_by_tls(certificates)
        self.wait_for_samples(3)


if __name__ == "__main__":
    unittest.main()
