"""What goes wrong between the daemon and its devices, all of it at once, each in a room of its own."""

import unittest

from fault_site import Fault, FaultTest, RELAY_WITHIN_S
from modbus_devices import DEVICE_BUSY, DEVICE_FAILURE
from plant import wait_for

ROOMS = {"cable": "tcp", "reboot": "tcp", "storm": "tcp", "late": "tcp", "late-serial": "rtu", "mute": "tcp", "garbled": "rtu",
         "noisy": "rtu", "stuck": "tcp", "well": "tcp"}
POISON = 25.0  # what answers hold that must not be believed, in percent


class BusFaults(FaultTest):
    def test_each_is_told_in_its_room_alone_and_ends_by_itself(self):
        plant = self.site(ROOMS, sensor=lambda room: 'stuck_after = "1 min"' if room == "stuck" else "")
        plant.start()
        devices, lines = plant.transmitters, plant.lines

        def spoil(room, fault, poison=None):
            lines[room].fault = fault
            if poison:
                devices[room].percent = poison

        def mend(room):
            # Answers that are on their way still hold what they held: only those from now on are right.
            devices[room].percent, lines[room].fault = 20.9, None

        def set_of(room, **values):
            for name, value in values.items():
                setattr(devices[room], name, value)

        with self.undergoing(
            Fault("bus cable out", "cable", lines["cable"].cut, lines["cable"].mend,
                  reason="cell", log="sensor cable/cell: .*refused", log_after=r"sensor cable/cell: recovered after \d+ failures"),
            Fault("device reboot", "reboot", lambda: set_of("reboot", silent=True),
                  lambda: self.boot(plant, "reboot"), reason="cell", log="sensor reboot/cell: ",
                  log_after=r"sensor reboot/cell: recovered after \d+ failures"),
            Fault("exception storm", "storm", lambda: set_of("storm", refuses=DEVICE_FAILURE),
                  lambda: set_of("storm", refuses=None), reason="cell", log=r"sensor storm/cell: .*server device failure \(04\)",
                  log_after=r"sensor storm/cell: recovered after \d+ failures"),
            Fault("late replies", "late", lambda: spoil("late", "late", POISON), lambda: mend("late"),
                  reason="cell", log="sensor late/cell: ", never_recorded=POISON / 100,
                  log_after=r"sensor late/cell: recovered after \d+ failures"),
            Fault("late replies on a serial line", "late-serial", lambda: spoil("late-serial", "late", POISON),
                  lambda: mend("late-serial"), reason="cell", log="sensor late-serial/cell: ", never_recorded=POISON / 100,
                  log_after=r"sensor late-serial/cell: recovered after \d+ failures"),
            Fault("gateway that accepts and never answers", "mute", lambda: spoil("mute", "mute"), lambda: mend("mute"),
                  reason="cell", log="sensor mute/cell: ", log_after=r"sensor mute/cell: recovered after \d+ failures"),
            Fault("bit errors", "garbled", lambda: spoil("garbled", "garbled", POISON), lambda: mend("garbled"),
                  reason="cell", log="sensor garbled/cell: ", never_recorded=POISON / 100,
                  log_after=r"sensor garbled/cell: recovered after \d+ failures"),
            Fault("bit errors now and then", "noisy", lambda: spoil("noisy", "garbled now and then"), lambda: mend("noisy"),
                  monitored=True, alarm=(), alarm_after=(), relay=True),
            Fault("stuck value", "stuck", lambda: set_of("stuck", frozen=True), lambda: set_of("stuck", frozen=False),
                  reason="cell"),
        ):
            took = plant.leak("well")
            self.assertLess(took, RELAY_WITHIN_S, "no fault of another line delays an alarm")
            print(f"relay {took * 1000:.0f} ms after oxygen fell, with all of these lines spoilt")
        self.assertEqual(plant.room("well")["monitored"], True)
        self.check_records()

    @staticmethod
    def boot(plant, room):
        """A device that comes up: its connections are gone, it is busy for three polls, then it works."""
        device, line = plant.transmitters[room], plant.lines[room]
        for connection in list(line.connections):
            line.drop(connection)
        device.refuses, device.silent = DEVICE_BUSY, False
        wait_for("three polls of the device that comes up", lambda before=line.answers: line.answers >= before + 3)
        device.refuses = None


if __name__ == "__main__":
    unittest.main()
