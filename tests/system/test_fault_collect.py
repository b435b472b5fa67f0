"""What goes wrong around the historian: nothing that the broker took is lost, it is told once and loudly, and it goes on by
itself."""

import unittest
import urllib.request

from historian import HistorianTest, pack
from plant import PATIENCE, Process, wait_for

TOPIC = "oxherd/larkfield/cryo-annexe/cell-a"
REFUSED = "the database does not take what comes"


def metric(text, name):
    return next((float(line.rsplit(" ", 1)[1]) for line in text.splitlines() if line.startswith(name + " ")), None)


class CollectFaults(HistorianTest):
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


if __name__ == "__main__":
    unittest.main()
