/** Published values for binary frames, with where each was read. */

/**
 * CRC-16/MODBUS: check value of the ASCII digits 123456789, and the residue.
 * Read in: crc-catalog crate documentation, CRC_16_MODBUS,
 * https://docs.rs/crc-catalog/2.5.0/crc_catalog/algorithm/constant.CRC_16_MODBUS.html
 */
export const CRC16_MODBUS = {
  check: 0x4b37,
  /** Computed with the published parameters, low byte first on the wire: 01 03 00 00 00 0A -> C5 CD. */
  example: { frame: [0x01, 0x03, 0x00, 0x00, 0x00, 0x0a], onTheWire: [0xc5, 0xcd] },
};

/**
 * Seven-segment masks, bit 0 = a ... bit 6 = g.
 * Read in: digits.h (hex masks 0x3F ... 0x6F), https://github.com/NodCaleb/timer_bomb, agreeing with a_Symbols.ino,
 * https://github.com/Pinjesz/Thermometer-arduino
 */
export const SEVEN_SEGMENT_MASKS: Record<string, number> = {
  0: 0x3f, 1: 0x06, 2: 0x5b, 3: 0x4f, 4: 0x66, 5: 0x6d, 6: 0x7d, 7: 0x07, 8: 0x7f, 9: 0x6f,
};

/**
 * SCPI error queue: SYSTem:ERRor? answers 0,"No error" when empty. Read in: scpi-parser library, libscpi/test/test_parser.c,
 * https://github.com/j123b567/scpi-parser/blob/886615902b2777b71860445305bfe5a3faef4f3e/libscpi/test/test_parser.c
 * *IDN? answers four fields (IEEE 488.2, 10.14), example from the same file: MA,IN,0,VER
 */
export const SCPI_ANSWERS = { noError: '0,"No error"', identity: 'MA,IN,0,VER' };
