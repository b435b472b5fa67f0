"""Vents, gases and heat of the simulated site, driven by the real daemon over its buses."""

import json
import unittest

from plant import ROOT, Plant, wait_for

STORE, CHAMBER = "pear-store-2", "growth-chamber-1"
CHAMBER_VENTS, CHAMBER_CO2, ANNEXE_FAN = 0, 4, 0  # coils of units 32 and 33
# What is below 26 °C needs no cold; at night no light: what the tests look at must not hang on the hour of the day.


class Control(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        # The least times of vents and gases are minutes, which a test need not wait for.
        control = (ROOT / "demo/control.toml").read_text()
        for duty in ("ventilation", "fresh-air", "nitrogen-purge"):
            control = control.replace(f'duty = "{duty}"\n', f'duty = "{duty}"\nmin_on = "2 s"\nmin_off = "2 s"\n')
        self.plant.write_config(lambda text: text + control)
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()
        wait_for("every room to be monitored",
                 lambda: all(room["monitored"] for room in self.rooms() if room["control"]))

    def rooms(self):
        return json.loads(self.plant.oxherd("status", "--json").stdout)["rooms"]

    def actuator(self, name):
        return next(one for room in self.rooms() for one in room["control"] if one["output"] == name)

    def is_on(self, name):
        return self.actuator(name)["fraction"] > 0

    def conditions(self, name):
        return {block["condition"] for block in self.actuator(name)["blocked_by"]}

    def order(self, name, act, *more, check=True):
        return self.plant.oxherd("control", name, "--do", act, "--by", "R. Okafor", "--because", "a test", *more,
                                 check=check)

    def history(self):
        return json.loads(self.plant.oxherd("history", "alarms", "--last", "1h", "--json").stdout)["alarms"]

    def journal(self, output):
        return [line["event"] for line in self.history() if line["alarm"] == f"actuator/{output}"]

    def seal(self):
        """The purge by hand: the store is at its set-point, and the loop has nothing to do."""
        for words in (("ventilated-before-entry",), ("sealed-low-oxygen", "--seen-empty")):
            self.plant.oxherd("regime", STORE, "--set", *words, "--by", "R. Okafor", "--comment", "a test")

    def wait_for_conditions(self, name, wanted):
        """Until nothing else is in its way. A machine that is slow enough has lost an output or a probe for a moment
        meanwhile, and so has an alarm that a person has to see first."""
        seen = set()

        def as_wanted():
            nonlocal seen
            seen = self.conditions(name)
            for alarm in self.plant.room(STORE)["alarms"] if "no-safety-alarm" in seen else ():
                act = ("acknowledge" if alarm["state"].endswith("unacknowledged") else
                       "reset" if alarm["state"].startswith("latched") else None)
                if act:
                    self.plant.oxherd(act, f"{STORE}/{alarm['alarm']}", "--by", "R. Okafor", check=False)
            return seen == wanted

        try:
            wait_for(f"nothing in the way of {name} but {wanted}", as_wanted)
        except AssertionError as late:
            raise AssertionError(f"{late}: {seen}, {self.actuator(name)}") from None

    def purge(self):
        self.seal()
        self.wait_for_conditions("pear-nitrogen", {"started-by-person"})
        self.order("pear-nitrogen", "start")
        self.order("pear-nitrogen", "hold", "--at", "100%", "--for", "5min")
        wait_for("the purge to be on", lambda: self.is_on("pear-nitrogen"), 60)

    def test_a_purge_is_refused_until_the_store_is_sealed_and_shut_by_its_door_for_good(self):
        plant = self.plant
        refused = self.order("pear-nitrogen", "start", check=False)
        self.assertEqual(refused.returncode, 4)
        self.assertIn("no person has said that the room is sealed and empty", refused.stderr)
        self.purge()
        plant.order(f"door {STORE} 1")
        wait_for("the purge to be shut", lambda: not self.is_on("pear-nitrogen"))
        plant.wait_for_alarm(STORE, "control-tripped", "unacknowledged")
        self.assertIn("the door is open", self.actuator("pear-nitrogen")["tripped"]["because"])
        plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        wait_for("the fresh air to be let in", lambda: self.is_on("pear-fresh-air"))
        plant.order(f"door {STORE} 0")
        refused = self.order("pear-nitrogen", "release", check=False)
        self.assertEqual(refused.returncode, 4)
        self.assertIn("still stands", refused.stderr)
        self.assertIn("tripped", self.journal("pear-nitrogen"))
        # What tripped waits over a restart, and nothing starts by it.
        plant.daemon.end()
        plant.start_daemon()
        wait_for("the store to be monitored", lambda: plant.room(STORE)["monitored"])
        self.assertIn("the door is open", self.actuator("pear-nitrogen")["tripped"]["because"])
        self.assertFalse(self.is_on("pear-nitrogen"))

    def test_a_purge_is_shut_when_its_device_takes_no_writes_and_when_people_are_in(self):
        self.purge()
        self.plant.order(f"people {STORE} 1")
        wait_for("the purge to be shut", lambda: not self.is_on("pear-nitrogen"))
        self.assertIn("nobody-in", self.conditions("pear-nitrogen"))
        self.plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")  # the seal is broken: they may be in
        self.plant.order(f"people {STORE} 0")
        wait_for("nobody to be seen", lambda: "nobody-in" not in self.conditions("pear-nitrogen"))
        self.assertIn("sealed", self.conditions("pear-nitrogen"), "until somebody has looked")
        self.seal()
        self.wait_for_conditions("pear-nitrogen", {"started-by-person", "not-tripped"})
        self.order("pear-nitrogen", "release")
        self.order("pear-nitrogen", "start")
        self.order("pear-nitrogen", "hold", "--at", "100%", "--for", "5min")
        wait_for("the purge to be on", lambda: self.is_on("pear-nitrogen"), 60)
        self.plant.order("fault plant-2 stuck")
        self.order("pear-nitrogen", "automatic")  # it is told to shut, and does not
        self.plant.wait_for_alarm(STORE, "output-lost", "unacknowledged")
        wait_for("the loss to be among what blocks it", lambda: "device-holds" in self.conditions("pear-nitrogen"))

    def test_low_oxygen_opens_the_vents_and_shuts_the_gas_whatever_a_person_holds(self):
        plant = self.plant
        wait_for("the vents to be shut", lambda: not self.is_on("chamber-vents"), 90)
        self.assertEqual(plant.coil(CHAMBER_VENTS, 32), True, "held shut by its coil")
        self.order("chamber-vents", "hold", "--at", "0%", "--for", "30min")
        plant.order(f"gas {CHAMBER}/cell 12")
        plant.wait_for_alarm(CHAMBER, "low-oxygen", "unacknowledged")
        wait_for("the vents to open", lambda: plant.coil(CHAMBER_VENTS, 32) is False)
        self.assertEqual(self.actuator("chamber-vents")["decided_by"], "interlock")
        self.assertIn("no-safety-alarm", self.conditions("chamber-co2"))
        self.assertIs(plant.coil(CHAMBER_CO2, 32), False)
        refused = self.order("chamber-co2", "hold", "--at", "100%", "--for", "1min", check=False)
        self.assertEqual(refused.returncode, 4)
        self.assertIn("no one works it past that", refused.stderr)

    def test_a_heater_follows_a_hand_and_its_program_and_stops_without_its_probe(self):
        plant = self.plant
        self.order("chamber-heater", "hold", "--at", "30%", "--for", "10min")
        wait_for("the register", lambda: plant.holding(0, 32) == 3000)
        self.order("chamber-heater", "automatic")
        loop = self.actuator("chamber-heater")["loop"]
        self.assertEqual((loop["holds"], loop["program"], loop["unit"]), ("temperature", "following", "°C"))
        plant.order(f"fault {CHAMBER}/air silent")
        wait_for("the heater to be off", lambda: self.actuator("chamber-heater")["decided_by"] == "safe-state")
        wait_for("the register to be 0", lambda: plant.holding(0, 32) == 0)

    def test_a_loop_is_tuned_by_an_order_and_tells_how_it_performed(self):
        heat = f"{CHAMBER}/heat"
        wait_for("the loop to decide", lambda: self.actuator("chamber-heater")["decided_by"] == "loop")
        self.order(heat, "program-hold")
        limits = ("--low", "1degC", "--high", "50degC")
        for words, code, said in ((limits[:2], 4, "say between which values"), ((*limits, "--at", "5%"), 2, "--at"),
                                  ((*limits, "--output", "20%"), 2, "20%..60%"), (("--low", "1", *limits[2:]), 4, "low: ")):
            with self.subTest(words):
                refused = self.order(heat, "tune", *words, check=False)
                self.assertEqual(refused.returncode, code, refused.stderr)
                self.assertIn(said, refused.stderr)
        told = self.order(heat, "tune", *limits, "--output", "0%..80%", "--for", "1h").stdout
        self.assertIn("TUNED by R. Okafor", told)
        self.assertIn("within 1.0 to 50.0 °C, output 0 % or 80 %, for 1 h at most", told)
        wait_for("the relay's output", lambda: self.plant.holding(0, 32) in (0, 8000))
        self.order("chamber-heater", "hold", "--at", "30%", "--for", "10min")
        tuning = self.actuator("chamber-heater")["loop"]["tuning"]
        self.assertFalse(tuning["running"])
        self.assertTrue(tuning["outcome"].startswith("a person decides"), tuning["outcome"])
        events = [line["event"] for line in self.history() if line["alarm"] == "loop/heat"]
        self.assertEqual(events, ["program-hold", "tune-refused", "tune-refused", "tune", "tuning-ended"])
        report = self.plant.oxherd("control", heat, "--report").stdout
        for words in ("observed", "in automatic", "within the band", "idle index"):
            self.assertIn(words, report)
        self.order(heat, "begin-report")
        loop = json.loads(self.plant.oxherd("control", heat, "--report", "--json").stdout)["loops"][0]
        self.assertEqual((loop["room"], loop["loop"], loop["report"]["by"]), (CHAMBER, "heat", "R. Okafor"))

    def test_the_modules_air_the_rooms_when_the_daemon_is_killed_and_when_it_stops(self):
        plant = self.plant
        wait_for("the fan to be held still", lambda: plant.coil(ANNEXE_FAN, 33) is True, 90)
        plant.daemon.end()
        self.assertIs(plant.coil(ANNEXE_FAN, 33), False, "an orderly stop leaves what airs a room on")
        plant.start_daemon()
        wait_for("the fan to be held still", lambda: plant.coil(ANNEXE_FAN, 33) is True, 90)
        plant.daemon.kill()
        wait_for("the module's own time-out", lambda: plant.coil(ANNEXE_FAN, 33) is False, 30)


if __name__ == "__main__":
    unittest.main()
