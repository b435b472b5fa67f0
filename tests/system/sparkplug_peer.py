"""A Sparkplug B host for tests: paho for MQTT, and messages of Google's protobuf library for Python that are described
here once more, by the table in "Sparkplug 3.0.0", 6.4.1; nothing of the daemon's own schema is used."""

import threading
import time

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory
from paho.mqtt import client as paho

# Number and type of each field, and whether it is one of the values of which a message has one at most.
UINT32, UINT64, FLOAT, DOUBLE, BOOL, STRING, BYTES, MESSAGE = 13, 4, 2, 1, 8, 9, 12, 11
SCHEMA = {
    "PropertyValue": [("type", 1, UINT32), ("is_null", 2, BOOL), ("int_value", 3, UINT32, "value"),
                      ("long_value", 4, UINT64, "value"), ("float_value", 5, FLOAT, "value"),
                      ("double_value", 6, DOUBLE, "value"), ("boolean_value", 7, BOOL, "value"),
                      ("string_value", 8, STRING, "value")],
    "PropertySet": [("keys", 1, STRING, "many"), ("values", 2, "PropertyValue", "many")],
    "Metric": [("name", 1, STRING), ("alias", 2, UINT64), ("timestamp", 3, UINT64), ("datatype", 4, UINT32),
               ("is_historical", 5, BOOL), ("is_transient", 6, BOOL), ("is_null", 7, BOOL), ("properties", 9, "PropertySet"),
               ("int_value", 10, UINT32, "value"), ("long_value", 11, UINT64, "value"), ("float_value", 12, FLOAT, "value"),
               ("double_value", 13, DOUBLE, "value"), ("boolean_value", 14, BOOL, "value"),
               ("string_value", 15, STRING, "value"), ("bytes_value", 16, BYTES, "value")],
    "Payload": [("timestamp", 1, UINT64), ("metrics", 2, "Metric", "many"), ("seq", 3, UINT64), ("uuid", 4, STRING),
                ("body", 5, BYTES)],
}


def _payload_class():
    file = descriptor_pb2.FileDescriptorProto(name="peer.proto", package="peer", syntax="proto2")
    for name, fields in SCHEMA.items():
        message = file.message_type.add(name=name)
        for field, number, kind, *more in fields:
            one = message.field.add(name=field, number=number, label=3 if "many" in more else 1)
            if isinstance(kind, str):
                one.type, one.type_name = MESSAGE, ".peer." + kind
            else:
                one.type = kind
            if "value" in more:
                if not message.oneof_decl:
                    message.oneof_decl.add(name="value")
                one.oneof_index = 0
    pool = descriptor_pool.DescriptorPool()
    pool.Add(file)
    return message_factory.MessageFactory(pool).GetPrototype(pool.FindMessageTypeByName("peer.Payload"))


Payload = _payload_class()


class Seen:
    """One message as it came."""

    def __init__(self, message):
        self.topic, self.qos, self.retained, self.bytes = message.topic, message.qos, message.retain, message.payload
        _, self.group, self.kind, self.node, *device = message.topic.split("/")
        self.device = device[0] if device else None
        self.payload = Payload.FromString(message.payload)
        self.seq = self.payload.seq if self.payload.HasField("seq") else None

    def metric(self, name):
        found = [metric for metric in self.payload.metrics if metric.name == name]
        return found[-1] if found else None

    def value(self, name):
        metric = self.metric(name)
        return None if metric is None or metric.is_null else getattr(metric, metric.WhichOneof("value"))

    def properties(self, name):
        properties = self.metric(name).properties
        return {key: getattr(value, value.WhichOneof("value")) for key, value in zip(properties.keys, properties.values)}

    def __repr__(self):
        return f"{self.topic} seq {self.seq}"


class Host:
    """Reads everything of one group from a broker, and can command."""

    def __init__(self, port, group):
        self.group, self.seen, self.lock = group, [], threading.Lock()
        subscribed = threading.Event()
        self.client = paho.Client(client_id="host")
        self.client.on_connect = self._connected
        self.nodes = set()
        self.client.on_subscribe = lambda *_: subscribed.set()
        self.client.on_message = self._take
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        if not subscribed.wait(10):
            raise AssertionError("the host could not subscribe")

    def _connected(self, client, *_):
        """Who comes back may have missed a birth, and asks those that it knows for another one."""
        client.subscribe(f"spBv1.0/{self.group}/#", 1)
        with self.lock:
            nodes = set(self.nodes)
        for node in nodes:
            payload = Payload(timestamp=int(time.time() * 1000))
            payload.metrics.add(name="Node Control/Rebirth", datatype=11, boolean_value=True)
            client.publish(f"spBv1.0/{self.group}/NCMD/{node}", payload.SerializeToString(), 0)

    def _take(self, _client, _userdata, message):
        if "/NCMD/" in message.topic:
            return
        seen = Seen(message)
        with self.lock:
            self.seen.append(seen)
            self.nodes.add(seen.node)

    def messages(self):
        with self.lock:
            return list(self.seen)

    def of(self, kind, device=None):
        return [one for one in self.messages() if one.kind == kind and one.device == device]

    def command(self, node, name, value=True):
        payload = Payload(timestamp=int(time.time() * 1000))
        payload.metrics.add(name=name, datatype=11, boolean_value=value)
        self.send(node, payload.SerializeToString())

    def send(self, node, payload):
        self.client.publish(f"spBv1.0/{self.group}/NCMD/{node}", payload, 0).wait_for_publish()

    def close(self):
        self.client.loop_stop()
        self.client.disconnect()
