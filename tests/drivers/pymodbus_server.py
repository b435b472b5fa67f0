"""A Modbus server for the driver tests: `pymodbus_server.py tcp` or `pymodbus_server.py rtu DEVICE`.

Prints "ready PORT" or "ready" once requests are answered. Unit 11 holds 200 of each kind, see agreement.hpp.
"""

import asyncio
import sys

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer


def unit_context():
    addresses = range(200)
    return ModbusSlaveContext(
        co=ModbusSequentialDataBlock(0, [a % 3 == 0 for a in addresses]),
        di=ModbusSequentialDataBlock(0, [a % 5 == 0 for a in addresses]),
        hr=ModbusSequentialDataBlock(0, [(a * 257 + 11) & 0xFFFF for a in addresses]),
        ir=ModbusSequentialDataBlock(0, [(a * 31 + 5) & 0xFFFF for a in addresses]),
        zero_mode=True,
    )


async def serve():
    context = ModbusServerContext(slaves={11: unit_context()}, single=False)
    if sys.argv[1] == "tcp":
        server = ModbusTcpServer(context, address=("127.0.0.1", 0))
        task = asyncio.create_task(server.serve_forever())
        await server.serving
        print("ready", server.server.sockets[0].getsockname()[1], flush=True)
        await task
        return
    # Pseudo terminals know no parity: asked for one, the server would sit there silently.
    server = ModbusSerialServer(context, port=sys.argv[2], baudrate=115200, parity="N")
    await server.start()
    if server.transport is None:
        sys.exit("the serial device was not opened")
    print("ready", flush=True)
    await server.serve_forever()


asyncio.run(serve())
