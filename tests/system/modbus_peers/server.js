// A Modbus TCP server for the driver tests: node server.js modbus-serial | jsmodbus
// Prints "ready PORT" once requests are answered. Holds 200 of each kind, see tests/drivers/agreement.hpp.
"use strict";

const SIZE = 200;
const addresses = [...Array(SIZE).keys()];
const coils = addresses.map((a) => a % 3 === 0);
const discretes = addresses.map((a) => a % 5 === 0);
const holdings = addresses.map((a) => (a * 257 + 11) & 0xffff);
const inputs = addresses.map((a) => (a * 31 + 5) & 0xffff);

function illegalAddress() {
  return Object.assign(new Error("illegal data address"), { modbusErrorCode: 2 });
}

function serveModbusSerial() {
  const { ServerTCP } = require("modbus-serial");
  const at = (values) => (address) => {
    if (address >= SIZE) throw illegalAddress();
    return values[address];
  };
  const put = (values) => (address, value) => {
    if (address >= SIZE) throw illegalAddress();
    values[address] = value;
  };
  const unit = {
    getCoil: at(coils),
    getDiscreteInput: at(discretes),
    getHoldingRegister: at(holdings),
    getInputRegister: at(inputs),
    setCoil: put(coils),
    setRegister: put(holdings),
  };
  const server = new ServerTCP(unit, { host: "127.0.0.1", port: 0, unitID: 11 });
  server.on("initialized", () => console.log("ready", server._server.address().port));
}

function serveJsmodbus() {
  const { server } = require("jsmodbus");
  const listener = require("net").createServer();
  const bits = (values) => {
    const packed = Buffer.alloc(SIZE / 8);
    values.forEach((on, a) => { if (on) packed[a >> 3] |= 1 << (a & 7); });
    return packed;
  };
  const registers = (values) => {
    const words = Buffer.alloc(SIZE * 2);
    values.forEach((value, a) => words.writeUInt16BE(value, 2 * a));
    return words;
  };
  new server.TCP(listener, {
    coils: bits(coils), discrete: bits(discretes), holding: registers(holdings), input: registers(inputs),
  });
  listener.listen(0, "127.0.0.1", () => console.log("ready", listener.address().port));
}

({ "modbus-serial": serveModbusSerial, jsmodbus: serveJsmodbus })[process.argv[2]]();
