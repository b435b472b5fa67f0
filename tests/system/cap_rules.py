"""What OASIS CAP-V1.2 (1 July 2010) asks of an alert, written down from the rules of its section 3.2 and the schema of its
section 3.4 (from memory): order and number of elements, enumerations, the form of times, what needs what."""

import re
import xml.etree.ElementTree as ET

NAMESPACE = "{urn:oasis:names:tc:emergency:cap:1.2}"
# 3.3.2: an offset, never a letter; UTC is written -00:00.
DATE_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[-+]\d\d:\d\d")
MANY = 10**9
# (name, least, most) in the order of the schema.
ALERT = [("identifier", 1, 1), ("sender", 1, 1), ("sent", 1, 1), ("status", 1, 1), ("msgType", 1, 1), ("source", 0, 1),
         ("scope", 1, 1), ("restriction", 0, 1), ("addresses", 0, 1), ("code", 0, MANY), ("note", 0, 1),
         ("references", 0, 1), ("incidents", 0, 1), ("info", 0, MANY)]
INFO = [("language", 0, 1), ("category", 1, MANY), ("event", 1, 1), ("responseType", 0, MANY), ("urgency", 1, 1),
        ("severity", 1, 1), ("certainty", 1, 1), ("audience", 0, 1), ("eventCode", 0, MANY), ("effective", 0, 1),
        ("onset", 0, 1), ("expires", 0, 1), ("senderName", 0, 1), ("headline", 0, 1), ("description", 0, 1),
        ("instruction", 0, 1), ("web", 0, 1), ("contact", 0, 1), ("parameter", 0, MANY), ("resource", 0, MANY),
        ("area", 0, MANY)]
AREA = [("areaDesc", 1, 1), ("polygon", 0, MANY), ("circle", 0, MANY), ("geocode", 0, MANY), ("altitude", 0, 1),
        ("ceiling", 0, 1)]
PAIR = [("valueName", 1, 1), ("value", 1, 1)]
WORDS = {
    "status": {"Actual", "Exercise", "System", "Test", "Draft"},
    "msgType": {"Alert", "Update", "Cancel", "Ack", "Error"},
    "scope": {"Public", "Restricted", "Private"},
    "category": {"Geo", "Met", "Safety", "Security", "Rescue", "Fire", "Health", "Env", "Transport", "Infra", "CBRNE",
                 "Other"},
    "responseType": {"Shelter", "Evacuate", "Prepare", "Execute", "Avoid", "Monitor", "Assess", "AllClear", "None"},
    "urgency": {"Immediate", "Expected", "Future", "Past", "Unknown"},
    "severity": {"Extreme", "Severe", "Moderate", "Minor", "Unknown"},
    "certainty": {"Observed", "Likely", "Possible", "Unlikely", "Unknown"},
}
TIMES = {"sent", "effective", "onset", "expires"}


def _check(parent, rules, found):
    """The children of an element against the order and the numbers that the schema gives."""
    order = [name for name, _, _ in rules]
    names = [child.tag.removeprefix(NAMESPACE) for child in parent]
    where = parent.tag.removeprefix(NAMESPACE)
    for child, name in zip(parent, names):
        if not child.tag.startswith(NAMESPACE):
            found.append(f"{where}: {child.tag} is not of the namespace")
        if name not in order:
            found.append(f"{where}: {name} is unknown")
            continue
        text = child.text or ""
        if name in WORDS and text not in WORDS[name]:
            found.append(f"{where}.{name}: {text!r} is not one of its words")
        if name in TIMES and not DATE_TIME.fullmatch(text):
            found.append(f"{where}.{name}: {text!r} is no time of the standard")
        if name in TIMES and text.endswith("+00:00"):
            found.append(f"{where}.{name}: UTC is written -00:00")
        if not len(child) and not text.strip():
            found.append(f"{where}.{name}: empty")
    known = [order.index(name) for name in names if name in order]
    if known != sorted(known):
        found.append(f"{where}: its elements are out of order: {names}")
    for name, least, most in rules:
        if not least <= names.count(name) <= most:
            found.append(f"{where}: {name} stands {names.count(name)} times")


def breaches(document):
    """Everything in the text of an alert that the standard forbids; empty for a sound one."""
    found = []
    alert = ET.fromstring(document)
    if alert.tag != NAMESPACE + "alert":
        return [f"{alert.tag} is no alert of CAP 1.2"]
    _check(alert, ALERT, found)
    text = {child.tag.removeprefix(NAMESPACE): child.text or "" for child in alert}
    for name in ("identifier", "sender"):  # 3.2.1: no spaces, commas or restricted characters
        if re.search(r"[\s,<&]", text.get(name, "")):
            found.append(f"{name}: {text[name]!r} has a character that it must not have")
    if text.get("msgType") in ("Update", "Cancel", "Ack", "Error") and not text.get("references"):
        found.append(f"references: missing with {text.get('msgType')}")
    for one in text.get("references", "").split():  # sender,identifier,sent
        parts = one.split(",")
        if len(parts) != 3 or not all(parts) or not DATE_TIME.fullmatch(parts[2]):
            found.append(f"references: {one!r} is no sender,identifier,sent")
    if text.get("scope") == "Private" and not text.get("addresses"):
        found.append("addresses: missing with Private")
    if text.get("scope") == "Restricted" and not text.get("restriction"):
        found.append("restriction: missing with Restricted")
    for info in alert.findall(NAMESPACE + "info"):
        _check(info, INFO, found)
        for name, rules in (("area", AREA), ("parameter", PAIR), ("eventCode", PAIR)):
            for one in info.findall(NAMESPACE + name):
                _check(one, rules, found)
    return found


def value(document, path):
    """The text of the first element at a path such as "info/event"."""
    found = ET.fromstring(document).find("/".join(NAMESPACE + name for name in path.split("/")))
    return None if found is None else found.text
