#!/usr/bin/python3
"""The straightforward script that the daemon is held against: polls every sensor once a second and publishes each sample.

    script.py MODBUS_PORT MQTT_PORT BUSES SENSORS_OF_A_BUS

pymodbus and paho-mqtt, one request and one message with QoS 1 for each sample, a SenML pack with value and time. Nothing is
corrected, judged, recorded or alarmed.
"""
import json
import sys
import time

import paho.mqtt.client as mqtt
from pymodbus.client import ModbusTcpClient


def main():
    modbus_port, mqtt_port, buses, sensors = map(int, sys.argv[1:5])
    broker = mqtt.Client(client_id="script")
    broker.connect("127.0.0.1", mqtt_port)
    broker.max_inflight_messages_set(1000)
    broker.loop_start()
    lines = [ModbusTcpClient("127.0.0.1", port=modbus_port + bus) for bus in range(buses)]
    for line in lines:
        line.connect()
    every = 1.0 / (buses * sensors)
    due = time.monotonic()
    while True:
        for unit in range(1, sensors + 1):
            for bus, line in enumerate(lines):
                due += every
                if (ahead := due - time.monotonic()) > 0:
                    time.sleep(ahead)
                reply = line.read_input_registers(0, 1, slave=unit)
                if reply.isError():
                    continue
                pack = [{"bn": f"script/b{bus}/s{unit}/", "bt": time.time(), "n": "oxygen", "u": "/",
                         "v": reply.registers[0] * 1e-4}]
                broker.publish(f"script/b{bus}/s{unit}", json.dumps(pack), qos=1)


if __name__ == "__main__":
    main()
