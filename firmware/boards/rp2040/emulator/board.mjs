// The RP2040 image at a prompt: a request a line, an answer a line, in the words of firmware/native/probe.c.
//
//     node board.mjs frothline.uf2
//
// rp2040js executes the instructions and models core, clocks, timer, pins, two-wire bus and watchdog. Modelled here, as it
// does not: the boot ROM's part of the start, the pace of the converter, the depth and pace of the serial line's queues,
// and the flash chip behind its serial interface, with power cuts.
import fs from 'node:fs';
import readline from 'node:readline';
import { RP2040, ConsoleLogger, LogLevel } from 'rp2040js';

const CRYSTAL = 12e6;
const ADC_INTERRUPT = 22;
const BYTE_NS = 20000;  // ten bits at 500 kBd
const LINE_DEPTH = 32;
const STORAGE = { first: 0x1fe000, sector: 4096, bytes: 512 };
const PIN = { button: 2, rotor: 3, busClock: 5, scaleData: 6, scaleClock: 7 };

function flashOf(uf2) {
  const flash = new Uint8Array(1 << 21).fill(0xff);
  for (let at = 0; at < uf2.length; at += 512) {
    const where = uf2.readUInt32LE(at + 12) - 0x10000000;
    flash.set(uf2.subarray(at + 32, at + 32 + uf2.readUInt32LE(at + 16)), where);
  }
  return flash;
}

// A flash chip of 2 MiB behind the serial interface: 03 read, 02 program, 20 erase 4 KiB, 06, 05, 4B.
class FlashChip {
  constructor(bytes) {
    this.bytes = bytes;
    this.cutAfter = -1;  // programs and erasures until the power fails within one; -1: never
    this.done = 0;
    this.dead = false;
    this.selected = false;
    this.answers = [];
    this.now = () => 0;
    this.busyUntil = 0;
  }
  select(low) {
    if (low && !this.selected) this.asked = [];
    if (!low && this.selected) this.finish();
    this.selected = low;
  }
  byte(value) {
    this.asked.push(value);
    const [command, a, b, c] = this.asked;
    const n = this.asked.length;
    let answer = 0xff;
    if (command === 0x05 && n > 1) answer = this.now() < this.busyUntil ? 1 : 0;
    if (command === 0x03 && n > 4) answer = this.bytes[((a << 16) | (b << 8) | c) + n - 5];
    if (command === 0x4b && n > 5) answer = [0xd1, 0x5c, 0x0f, 0x77, 0x01, 0x22, 0x93, 0x5a][n - 6];
    this.answers.push(answer);
  }
  finish() {
    const [command, a, b, c, ...data] = this.asked;
    if (command === 0x06) this.writable = true;
    if ((command !== 0x02 && command !== 0x20) || !this.writable || this.dead) return;
    this.writable = false;
    const at = (a << 16) | (b << 8) | c;
    const torn = this.done++ === this.cutAfter;
    if (command === 0x20) {
      const to = torn ? STORAGE.sector >> 1 : STORAGE.sector;
      this.bytes.fill(0xff, at, at + to);
    } else {
      data.forEach((byte, k) => {
        if (!torn || k < 2) this.bytes[at + k] &= byte;
      });
    }
    this.busyUntil = this.now() + (command === 0x20 ? 45e6 : 0.7e6);
    this.dead = torn;
  }
}

class Interface {  // the SSI, while the program uses it
  constructor(chip) { this.chip = chip; this.registers = {}; }
  readUint32(offset) {
    if (offset === 0x28) return 0x06 | (this.chip.answers.length ? 0x08 : 0);
    if (offset === 0x60) return this.chip.answers.shift() ?? 0;
    return this.registers[offset] ?? 0;
  }
  writeUint32Atomic(offset, value) {
    if (offset === 0x60) this.chip.byte(value & 0xff);
    else this.registers[offset] = value;
  }
}

class SelectPin {  // IO_QSPI
  constructor(chip) { this.chip = chip; }
  readUint32() { return 0; }
  writeUint32Atomic(offset, value) {
    if (offset === 0x0c) this.chip.select(((value >> 8) & 3) === 2);
  }
}

class Converter {
  constructor(board) {
    this.board = board;
    this.registers = { 0x00: 0, 0x08: 0, 0x10: 0, 0x18: 0 };
    this.queue = [];
    this.alarm = board.rp.clock.createAlarm(() => this.convert());
  }
  convert() {
    const divider = 1 + (this.registers[0x10] >> 8);
    this.alarm.schedule((1e9 * Math.max(divider, 96)) / CRYSTAL);
    const input = (this.registers[0x00] >> 12) & 7;
    if (this.queue.length < 4) this.queue.push(this.board.code(input));
    this.tell();
  }
  tell() {
    this.board.rp.setInterrupt(ADC_INTERRUPT, !!(this.registers[0x18] & 1) && this.queue.length > 0);
  }
  readUint32(offset) {
    if (offset === 0x00) return this.registers[0] | 0x100;
    if (offset === 0x08) return this.registers[8] | (this.queue.length ? 0 : 0x100);
    if (offset === 0x0c) {
      const value = this.queue.shift() ?? 0;
      this.tell();
      return value;
    }
    return this.registers[offset] ?? 0;
  }
  writeUint32Atomic(offset, value) {
    const ran = this.registers[0x00] & 8;
    this.registers[offset] = value;
    if (offset === 0x00 && value & 8 && !ran) this.alarm.schedule(1000);
    this.tell();
  }
}

class Board {
  constructor(uf2) {
    this.flash = flashOf(uf2);
    this.chip = new FlashChip(this.flash);
    this.adc = [0, 0, 0, 0, 0];
    this.sent = [];
    this.to_receive = [];
    this.registers = new Uint8Array(256);
    this.ambient = 0;
    this.hang = false;
    this.button = false;
    this.rotor_every = 0;
    this.scale = 'absent';
    this.counts = 0;
    this.boots = 0;
  }
  // What the boot ROM does: check the boot stage, copy it to the end of the RAM, run it.
  boot() {
    Object.assign(this.chip, { dead: false, selected: false, answers: [], busyUntil: 0, writable: false });
    const rp = (this.rp = new RP2040());
    this.chip.now = () => rp.clock.nanos;
    rp.logger = new ConsoleLogger(LogLevel.Error, true);
    rp.flash.set(this.flash);
    const stage = this.flash.subarray(0, 256);
    let crc = 0xffffffff;
    for (const byte of stage.subarray(0, 252)) {
      crc = (crc ^ (byte << 24)) >>> 0;
      for (let bit = 0; bit < 8; bit++) crc = ((crc & 0x80000000 ? (crc << 1) ^ 0x04c11db7 : crc << 1) >>> 0);
    }
    if (crc !== Buffer.from(stage).readUInt32LE(252)) throw new Error('the boot stage has a wrong check');
    rp.sram.set(stage, 0x41f00);
    rp.peripherals[0x18000] = new Interface(this.chip);
    rp.peripherals[0x40018] = new SelectPin(this.chip);
    rp.peripherals[0x4004c] = new Converter(this);
    rp.gpio[PIN.button].setInputValue(!this.button);
    rp.gpio[PIN.rotor].setInputValue(true);
    this.model_scale(rp);
    this.model_line(rp);
    this.model_bus(rp);
    this.edge = rp.clock.createAlarm(() => this.turn());
    if (this.rotor_every) this.edge.schedule(this.rotor_every * 500);
    rp.peripherals[0x40058].onWatchdogTrigger = () => { this.bitten = true; };
    rp.core.SP = 0x20041f00;
    rp.core.PC = 0x20041f00;
    rp.core.waiting = false;
    this.boots++;
  }
  code(input) {
    return this.adc[[0, this.second ?? 1, 3][input]] & 0xfff;
  }
  turn() {
    if (!this.rotor_every) return;
    const pin = this.rp.gpio[PIN.rotor];
    pin.setInputValue(false);
    pin.setInputValue(true);
    this.edge.schedule(this.rotor_every * 500);
  }
  model_line(rp) {
    const uart = rp.uart[0];
    let queued = 0;
    const done = rp.clock.createAlarm(() => {
      if (--queued > 0) done.schedule(BYTE_NS);
    });
    const full = () => queued >= LINE_DEPTH;
    Object.defineProperty(uart, 'flags', {
      get: () => (uart.rxFIFO.empty ? 0x10 : 0) | (uart.rxFIFO.full ? 0x40 : 0) | (full() ? 0x20 : 0),
    });
    uart.onByte = (byte) => {
      if (uart.baudRate !== 500000) throw new Error(`the line runs at ${uart.baudRate} baud`);
      if (full()) throw new Error('a byte was written to a full serial line');
      this.sent.push(byte);
      if (queued++ === 0) done.schedule(BYTE_NS);
    };
    this.incoming = rp.clock.createAlarm(() => {
      const byte = this.to_receive.shift();
      if (byte === undefined) return;
      if (uart.rxFIFO.full) throw new Error('a received byte was lost');
      uart.feedByte(byte);
      this.incoming.schedule(BYTE_NS);
    });
  }
  model_bus(rp) {
    const i2c = rp.i2c[0];
    let which = 0;
    let first = true;
    const write = i2c.writeUint32.bind(i2c);
    i2c.writeUint32 = (offset, value) => {
      write(offset, value);
      if (offset === 0x6c && !(value & 1)) Object.assign(i2c, { state: 0, busy: false, stop: false });
    };
    this.clocks = 0;  // of the bus by hand, to free it
    rp.gpio[PIN.busClock].addListener((value) => { if (value === 0) this.clocks++; });
    const later = (act) => { if (!this.hang) rp.clock.createAlarm(act).schedule(90000); };
    i2c.onConnect = (address, mode) => {
      if (mode === 0) first = true;
      later(() => i2c.completeConnect(this.ambient !== 0 && address === this.ambient));
    };
    i2c.onWriteByte = (byte) => {
      if (first) which = byte;
      else this.registers[which++ & 255] = byte;
      first = false;
      later(() => i2c.completeWrite(true));
    };
    i2c.onReadByte = () => later(() => i2c.completeRead(this.registers[which++ & 255]));
  }
  model_scale(rp) {
    const clock = rp.gpio[PIN.scaleClock];
    const data = rp.gpio[PIN.scaleData];
    let pulses = 0;
    let word = 0;
    const ready = rp.clock.createAlarm(() => {
      word = this.counts & 0xffffff;
      pulses = 0;
      if (this.scale === 'converts') data.setInputValue(false);
      else ready.schedule(1e8);
    });
    data.setInputValue(this.scale !== 'low');
    ready.schedule(1e8);
    clock.addListener((value) => {
      if (value !== 1 || this.scale !== 'converts') return;
      pulses++;
      data.setInputValue(pulses <= 24 ? !!((word >> (24 - pulses)) & 1) : true);
      if (pulses === 25) ready.schedule(1e8);
    });
    this.scale_changed = () => data.setInputValue(this.scale !== 'low');
  }
  run(ticks) {
    const { rp } = this;
    const end = rp.clock.nanos + ticks * 500;
    while (rp.clock.nanos < end) {
      if (rp.core.waiting) {
        const gap = rp.clock.nanosToNextAlarm;
        rp.clock.tick(Math.min(gap > 0 ? gap : 1, end - rp.clock.nanos));
        rp.core.executeInstruction();  // wakes, or waits on
      } else {
        rp.clock.tick((1e9 * rp.core.executeInstruction()) / rp.clkSys);
      }
      if (this.bitten) throw new Error('the watchdog was not fed');
    }
    return Math.floor(rp.clock.nanos / 500) >>> 0;
  }
  storage() {  // what the list of changes in the flash comes to
    const found = new Uint8Array(STORAGE.bytes).fill(0xff);
    const heads = [0, 1].map((k) => {
      const at = STORAGE.first + k * STORAGE.sector;
      const [mark, number, not, check] = this.flash.subarray(at, at + 4);
      return mark === 0xf7 && (number ^ not) === 0xff && check === 0x5a ? number : -1;
    });
    if (heads[0] < 0 && heads[1] < 0) return found;
    const newer = heads[0] < 0 || (heads[1] >= 0 && ((heads[1] - heads[0]) << 24) >> 24 > 0) ? 1 : 0;
    const at = STORAGE.first + newer * STORAGE.sector;
    for (let k = 4; k < STORAGE.sector; k += 4) {
      const [low, high, byte, check] = this.flash.subarray(at + k, at + k + 4);
      if ((low & high & byte & check) === 0xff) break;
      if (high < 2 && check === (low ^ high ^ byte ^ 0x5a)) found[low | (high << 8)] = byte;
    }
    return found;
  }
}

const hex = (bytes) => (bytes.length ? Buffer.from(bytes).toString('hex') : '-');
const board = new Board(fs.readFileSync(process.argv[2]));
const acts = {
  boot() { board.boot(); return String(board.boots); },
  run([ticks]) { return String(board.run(Number(ticks))); },
  sent() { const bytes = board.sent; board.sent = []; return hex(bytes); },
  receive([text]) {
    const bytes = text === '-' ? [] : [...Buffer.from(text, 'hex')];
    board.to_receive.push(...bytes);
    if (bytes.length) board.incoming.schedule(BYTE_NS);
    return String(bytes.length);
  },
  registers([first, text]) { board.registers.set(Buffer.from(text, 'hex'), Number(first)); return ''; },
  storage() { return hex(board.storage()); },
  clocks() { return String(board.clocks); },
  flash() { return String(board.chip.done); },
  set([what, text]) {
    const value = Number(text);
    if (what.startsWith('adc')) board.adc[Number(what[3])] = value;
    else if (what === 'second') board.second = value;
    else if (what === 'rotor') {
      board.rotor_every = value;
      if (board.rp && value) board.edge.schedule(value * 500);
    } else if (what === 'button') {
      board.button = value !== 0;
      board.rp?.gpio[PIN.button].setInputValue(!board.button);
    } else if (what === 'ambient') board.ambient = value;
    else if (what === 'hang') board.hang = value !== 0;
    else if (what === 'counts' || what === 'scale') {
      board.scale = what === 'counts' ? 'converts' : value === 1 ? 'low' : 'absent';
      board.counts = value;
      board.scale_changed?.();
    } else if (what === 'fails') Object.assign(board.chip, { done: 0, cutAfter: value });
    else throw new Error(`no such thing to set: ${what}`);
    return '';
  },
};
for await (const line of readline.createInterface({ input: process.stdin })) {
  const [name, ...words] = line.trim().split(/\s+/);
  if (name) process.stdout.write(`${acts[name](words)}\n`);
}
