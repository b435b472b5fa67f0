#!/usr/bin/env python3
"""A second model of an alarm, to hold the first one against.

Written from the rules, not from the program: the rules of evaluation and the table of states of IEC 62682 / ISA-18.2
practice. It has another shape on purpose. Where the program has a state machine, this keeps facts (real, mock, seen,
latched, owed) and derives the state from them; where it has phases, this keeps the moment a trip or a clearing began.

    model.py PROGRAM [--seed N] [--traces N] [--spoil]

PROGRAM prints random lives of alarms as JSON lines. Exit 1 with the first difference, or when a row of the table of
transitions never occurred. With --spoil one entry of every trace is falsified first, and each must be noticed.
"""
import argparse
import collections
import json
import math
import os
import random
import subprocess
import sys

NAMES = {
    "A": "normal",
    "B": "unacknowledged",
    "C": "acknowledged",
    "D": "returned_to_normal_unacknowledged",
    "E": "latched_unacknowledged",
    "F": "latched_acknowledged",
    "G": "shelved",
    "H": "suppressed_by_design",
    "I": "out_of_service",
}
MINUTE = 60_000
TABLE = """A-condition-B B-acknowledge-C B-returned-D B-returned-E B-returned-A C-returned-A C-returned-F
C-re_annunciation-B D-acknowledge-A D-condition-B E-acknowledge-F E-condition-B F-reset-A F-condition-B""".split()
TABLE += [f"{state}-{how}-G" for state in "ABCDEFH" for how in ("shelve", "shelve_once")]
TABLE += [f"{state}-remove_from_service-I" for state in "ABCDEFGH"] + [f"{state}-design_on-H" for state in "ABCDEF"]
TABLE += [f"{cover}-ends-{state}" for cover in "GHI" for state in "ABEF"]
TABLE += ["G-ends-H", "I-ends-G", "I-ends-H", "G-returned-A", "G-returned-E", "G-returned-F", "G-returned-H"]
# A test comes and goes as the condition does. A real condition after it is announced as new.
TABLE += "A-test-B B-test-D B-test-E B-test-A C-test-A C-test-F B-condition-B C-condition-B".split()
TABLE += [f"test-ends-by-{what}" for what in ("time", "person", "suppression", "real condition")]
TABLE += [f"{act}-refused-in-{state}" for act, states in
          (("acknowledge", "ACFGHI"), ("reset", "ABCDEGHI"), ("silence", "ABCDEFGHI"), ("test", "ABCDEFGHI"),
           ("shelve", "ABCDEFGHI"), ("remove_from_service", "ABCDEFGHI"), ("unshelve", "ABCDEFHI"),
           ("return_to_service", "ABCDEFGH"), ("end_test", "ABCDEFGHI")) for state in states]
TABLE += [f"restart-in-{state}" for state in "ABCDEFGHI"] + ["silence-in-B", "silence-in-E"]
TABLE += ["chattering-begins", "chattering-begins-after-60-s-sharp", "chattering-goes-on", "chattering-ends"]


# Acts whose rows are told apart here and not in the journal.
JOURNALED_AS = {"shelve_once": "shelve", "unshelve": "shelve", "remove_from_service": "service",
                "return_to_service": "service", "end_test": "test", "silence": "acknowledge"}


def votes_to_trip(scheme, ballots):
    """True, False, or None when nobody is left to decide. Ballots are 'y', 'n' or 'f' (faulted)."""
    working = [ballot for ballot in ballots if ballot != "f"]
    if scheme == "1oo1":
        return working[0] == "y" if working else None
    if scheme == "2oo3":
        return sum(ballot != "n" for ballot in ballots) >= 2
    if not working:
        return True
    return any(b == "y" for b in working) if scheme == "1oo2" else all(b == "y" for b in working)


class LimitCondition:
    """Which channels say what; the delays come after."""

    def __init__(self, settings):
        self.s = settings
        self.decided = [False] * int(settings["scheme"][-1])

    def restart(self, active):
        self.decided = [active] * len(self.decided)

    def place(self, channel):
        """'low' beyond the limit, 'mid' inside the deadband, 'ok' beyond the deadband, 'bad'."""
        quality, value, expanded = channel
        if quality == "bad" or value is None or expanded is None or expanded < 0:
            return "bad"
        limit, band = self.s["limit"], self.s["deadband"]
        if self.s["direction"] == "low":
            worst = value - expanded
            return "low" if worst <= limit else "ok" if worst > limit + band else "mid"
        worst = value + expanded
        return "low" if worst >= limit else "ok" if worst < limit - band else "mid"

    def look(self, step):
        """(may a trip begin, may it go on, may nothing clear)"""
        places = [self.place(channel) for channel in step["channels"]]
        for i, place in enumerate(places):
            if place in ("low", "ok"):
                self.decided[i] = place == "low"
        scheme = self.s["scheme"]

        def trip(bad_as_fault):
            now, own = [], []
            for place, decided in zip(places, self.decided):
                if place == "bad":
                    ballot = "f" if bad_as_fault else "y" if decided else "n"
                    now.append(ballot)
                    own.append(ballot)
                else:
                    now.append("y" if place == "low" else "n")
                    own.append("y" if decided else "n")
            # a channel inside its deadband keeps its decision, but somebody has to be beyond the limit now
            return votes_to_trip(scheme, now) is True or ("y" in now and votes_to_trip(scheme, own) is True)

        def unclear(bad_as_fault):
            ballots = []
            for place, decided in zip(places, self.decided):
                if place == "bad":
                    ballots.append("f" if bad_as_fault else "y" if decided else "n")
                else:
                    ballots.append("n" if place == "ok" else "y")
            return votes_to_trip(scheme, ballots) is not False

        begins = trip(True)
        return begins, begins or trip(False), unclear(True) or unclear(False)


class MonitoringCondition:
    def restart(self, active):
        pass

    def look(self, step):
        blind = not step["monitored"]
        return blind, blind, blind


class Model:
    def __init__(self, settings):
        self.s = settings
        self.condition = LimitCondition(settings) if settings["rule"] == "limit" else MonitoringCondition()
        self.real = self.mock = False  # the decided condition, and the one that a test pretends
        self.seen = self.latched = self.owed = False
        self.trip_began = self.clearing_began = None
        self.test_until = self.test_looked_at = None
        self.pretended = False  # what is shown goes back to a test
        self.shelved = self.out = None  # until when
        self.once = self.design = False
        self.quiet_until = None
        self.occurrences, self.chattering = [], False
        self.since = settings["start"]
        self.rows = collections.Counter()

    # --- what is shown

    def active(self):
        return self.real or self.mock

    def under(self):
        if self.active():
            return "C" if self.seen else "B"
        if self.latched:
            return "F" if self.seen else "E"
        return "D" if self.owed else "A"

    def covered(self):
        return self.shelved is not None or self.design or self.out is not None

    def shown(self):
        if self.out is not None:
            return "I"
        if self.shelved is not None:
            return "G"
        return "H" if self.design else self.under()

    def sounds(self, now):
        return self.shown() in "BE" and (self.quiet_until is None or now >= self.quiet_until)

    # --- the condition

    def appear(self):
        self.seen = self.latched = self.owed = False
        self.quiet_until = None

    def cease(self):
        if self.s["latching"]:
            self.latched = True
        elif self.seen or not self.s["ack_required"]:
            self.seen = self.owed = False
        else:
            self.owed = True
        if self.once:
            self.uncover(self.lift_shelving)

    def judge(self, step):
        """The real condition, by the clock: it comes, goes or stays as it is."""
        now = step["now"]
        begins, goes_on, stands = self.condition.look(step)
        if not self.real:
            if self.trip_began is None and begins:
                self.trip_began = now
            if not goes_on:
                self.trip_began = None
            self.real = self.trip_began is not None and now - self.trip_began >= self.s["on"]
        else:
            if stands:
                self.clearing_began = None
            elif self.clearing_began is None:
                self.clearing_began = now
            self.real = self.clearing_began is None or now - self.clearing_began < self.s["off"]

    def end_of_test(self, now):
        """What ends the test that runs, if anything does."""
        if self.test_until is None:
            return None
        if self.real:
            return "real condition"
        if self.covered():
            return "suppression"
        if now >= self.test_until:
            return "person" if self.test_until == -math.inf else "time"
        return None

    def pretend(self, step):
        """The condition of a test comes as a real one does, after the on-delay."""
        ended = self.end_of_test(step["now"])
        if ended:
            self.rows[f"test-ends-by-{ended}"] += 1
            self.test_until = self.test_looked_at = None
            self.mock = False
        elif self.test_until is not None:
            if self.test_looked_at is None:
                self.test_looked_at = step["now"]
            self.mock = step["now"] - self.test_looked_at >= self.s["on"]
        return ended is not None

    def count(self, now):
        """Chattering: a third occurrence of the real condition within a minute, until ten minutes without one."""
        if self.chattering and now - self.occurrences[-1] > MINUTE:
            self.rows["chattering-goes-on"] += 1
        self.occurrences.append(now)
        recent = [t for t in self.occurrences if now - t <= MINUTE]
        if len(recent) >= 3:
            if not self.chattering:
                self.rows["chattering-begins"] += 1
                self.rows["chattering-begins-after-60-s-sharp"] += now - recent[-3] == MINUTE
            self.chattering = True

    def calm_down(self, now):
        if self.chattering and now - self.occurrences[-1] >= 10 * MINUTE:
            self.rows["chattering-ends"] += 1
            self.chattering = False

    def decide(self, step):
        """(what the journal is to say: 'condition', 'returned', 'test' or nothing; whether a test ended)"""
        was_real, was_mock = self.real, self.mock
        self.judge(step)
        ended = self.pretend(step)
        if self.real != was_real:
            self.trip_began = self.clearing_began = None
        if self.real and not was_real:
            self.appear()
            self.pretended = False
            self.count(step["now"])
            return "condition", ended
        if self.mock and not was_mock:
            self.appear()
            self.pretended = True
            return "test", ended
        if (was_real or was_mock) and not self.active():
            self.cease()
            return ("returned" if was_real else "test"), ended
        return None, ended

    # --- suppression

    def lift_shelving(self):
        self.shelved, self.once = None, False

    def lift_service(self):
        self.out = None

    def uncover(self, lift):
        before, was_covered = self.shown(), self.covered()
        lift()
        if was_covered and not self.covered():
            if self.active():
                self.seen = False
            elif not self.latched:
                self.seen = self.owed = False
            self.quiet_until = None
        if self.shown() != before:
            self.rows[f"{before}-ends-{self.shown()}"] += 1

    # --- one step of a trace; returns (accepted, transitions, beneath, whether a test ended)

    def take(self, step):
        shown, under, what = self.shown(), self.under(), step["do"]
        if what == "evaluate":
            return (True, *self.evaluate(step))
        if what == "restart":
            self.rows[f"restart-in-{shown}"] += 1
            self.restart(step)
            return True, [], [], False
        accepted = getattr(self, "do_" + what)(step)
        if not accepted:
            self.rows[f"{what}-refused-in-{shown}"] += 1
            return False, [], [], False
        transitions, beneath = [], []
        if self.shown() != shown:
            self.since = step["now"]
            self.rows[f"{shown}-{what}-{self.shown()}"] += 1
            transitions = [[NAMES[shown], NAMES[self.shown()], JOURNALED_AS.get(what, what)]]
        elif self.under() != under:
            beneath = [[NAMES[under], NAMES[self.under()], JOURNALED_AS.get(what, what)]]
        if self.under() == "A" and not what.startswith("design"):  # after its logic comes an evaluation, which does it
            self.pretended = False
        return True, transitions, beneath, False

    def evaluate(self, step):
        now, transitions, beneath = step["now"], [], []

        def journal(shown, under, cause, anew=False):
            if self.shown() != shown or (anew and not self.covered()):
                transitions.append([NAMES[shown], NAMES[self.shown()], cause])
                self.rows[f"{shown}-{cause}-{self.shown()}"] += 1
                self.since = now
            elif self.under() != under or anew:
                beneath.append([NAMES[under], NAMES[self.under()], cause])

        shown, under, was_mock = self.shown(), self.under(), self.mock
        cause, test_ended = self.decide(step)
        if cause:
            journal(shown, under, cause, anew=cause == "condition" and was_mock)
        shown, under = self.shown(), self.under()

        def lift():
            if self.shelved is not None and now >= self.shelved:
                self.lift_shelving()
            if self.out is not None and now >= self.out:
                self.lift_service()

        self.uncover(lift)
        journal(shown, under, "timer")
        shown, under = self.shown(), self.under()
        if self.quiet_until is not None and now >= self.quiet_until:
            self.quiet_until = None
        if shown == "C" and now - self.since >= self.s["reannounce"]:
            self.appear()
            journal(shown, under, "re_annunciation")
        if self.under() == "A":
            self.pretended = False
        self.calm_down(now)
        return transitions, beneath, test_ended

    def do_acknowledge(self, step):
        shown = self.shown()
        if shown not in "BDE":
            return False
        self.quiet_until = None
        self.owed = False
        self.seen = shown != "D"
        return True

    def do_reset(self, step):
        if self.shown() != "F":
            return False
        self.latched = self.seen = False
        return True

    def do_silence(self, step):
        if not self.sounds(step["now"]):
            return False
        self.rows[f"silence-in-{self.shown()}"] += 1
        self.quiet_until = step["now"] + min(self.s["silence"], 10 * MINUTE)
        return True

    def in_order(self, step, at_most):
        return step["reason"].strip() != "" and 0 < step["duration"] <= at_most

    def do_shelve(self, step):
        if self.s["safety"] or self.shelved is not None or not self.in_order(step, self.s["shelve_at_most"]):
            return False
        self.shelved = step["now"] + step["duration"]
        return True

    def do_shelve_once(self, step):
        accepted = self.do_shelve(step)
        self.once = self.once or accepted
        return accepted

    def do_unshelve(self, step):
        if self.shelved is None:
            return False
        self.uncover(self.lift_shelving)
        return True

    def do_remove_from_service(self, step):
        if self.out is not None or not self.in_order(step, self.s["service_at_most"]):
            return False
        self.out = step["now"] + step["duration"]
        return True

    def do_return_to_service(self, step):
        if self.out is None:
            return False
        self.uncover(self.lift_service)
        return True

    def do_test(self, step):
        if self.test_until is not None or self.shown() != "A":
            return False
        if not self.s["on"] < step["duration"] <= self.s["test_at_most"]:
            return False
        self.test_until = step["now"] + step["duration"]
        return True

    def do_end_test(self, step):
        if self.test_until is None:
            return False
        self.test_until = -math.inf
        return True

    def do_design_on(self, step):
        if self.s["safety"]:
            return False
        self.design = True
        return True

    def do_design_off(self, step):
        self.uncover(lambda: setattr(self, "design", False))
        return True

    def restart(self, step):
        """Nothing is acknowledged and nothing cleared; what a test has raised counts as real. Delays, silence, tests
        and the memory of chattering are gone; design logic decides anew."""
        now = step["now"]
        shift = now - step["stopped"] - step["away"]  # the clock of the program starts anew
        self.since += shift
        if (self.design or self.pretended) and self.active():
            self.seen = False
        self.design = False
        for name, at_most in (("shelved", "shelve_at_most"), ("out", "service_at_most")):
            if getattr(self, name) is not None:
                setattr(self, name, now if step["unknown"] else min(getattr(self, name) + shift, now + self.s[at_most]))
        self.trip_began = self.clearing_began = self.quiet_until = None
        self.real, self.mock, self.pretended = self.active(), False, False
        self.test_until = self.test_looked_at = None
        self.occurrences, self.chattering = [], False
        self.condition.restart(self.real)


def differences(trace, rows):
    """Compares one trace; yields (number of the step, what, model, program)."""
    model = Model(trace)
    for number, step in enumerate(trace["steps"]):
        now = step["now"]
        accepted, transitions, beneath, test_ended = model.take(step)
        expected = {
            "accepted": accepted,
            "shown": NAMES[model.shown()],
            "under": NAMES[model.under()],
            "present": model.active(),
            "sounds": model.sounds(now),
            "relay": model.under() in "BCEF",
            "since": model.since,
            "tested": model.test_until is not None,
            "simulated": model.pretended,
            "chattering": model.chattering,
            "transitions": transitions,
            "beneath": beneath,
            "test_ended": test_ended,
        }
        for what, value in expected.items():
            if what in step and step[what] != value:
                yield number, what, value, step[what]
                return
    rows.update(model.rows)


def spoil(trace, dice):
    """Falsifies one entry of one step."""
    step = dice.choice(trace["steps"])
    what = dice.choice([k for k in ("accepted", "shown", "under", "present", "sounds", "relay", "since", "tested",
                                    "simulated", "chattering", "transitions", "beneath", "test_ended") if k in step])
    if isinstance(step[what], bool):
        step[what] = not step[what]
    elif what == "since":
        step[what] += 1
    elif what in ("transitions", "beneath"):
        step[what] = step[what] + [["normal", "normal", "timer"]]
    else:
        step[what] = dice.choice([name for name in NAMES.values() if name != step[what]])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--seed", type=int, default=int(os.environ.get("OXHERD_SEED", "1")))
    parser.add_argument("--traces", type=int, default=4000)
    parser.add_argument("--spoil", action="store_true")
    args = parser.parse_args()
    print(f"seed {args.seed} (set OXHERD_SEED for another)")

    run = subprocess.run([args.program, str(args.seed), str(args.traces)], stdout=subprocess.PIPE, check=True, text=True)
    traces = [json.loads(line) for line in run.stdout.splitlines()]
    if len(traces) != args.traces:
        sys.exit(f"{args.traces} traces were asked for, {len(traces)} came")
    dice, rows, noticed = random.Random(args.seed), collections.Counter(), 0
    for index, trace in enumerate(traces):
        if args.spoil:
            spoil(trace, dice)
        for number, what, model, program in differences(trace, rows):
            noticed += 1
            if not args.spoil:
                head = {key: value for key, value in trace.items() if key != "steps"}
                print(json.dumps(head))
                for step in trace["steps"][max(0, number - 8):number + 1]:
                    print(json.dumps(step))
                sys.exit(f"trace {index}, step {number}: {what} is {model} by the model, {program} by the program")
    steps = sum(len(trace["steps"]) for trace in traces)
    if args.spoil:
        if noticed != len(traces):
            sys.exit(f"{len(traces)} traces were falsified, only {noticed} noticed")
        print(f"all {noticed} falsified traces noticed")
        return
    missing = [row for row in TABLE if rows[row] == 0]
    if missing:
        sys.exit("never occurred, so nothing is known of: " + ", ".join(missing))
    print(f"{len(traces)} traces, {steps} steps: no difference; every row of the table occurred, "
          f"the rarest {min(rows[row] for row in TABLE)} times")


if __name__ == "__main__":
    main()
