/** Usual rates of meters that talk, the commonest first; common practice, no source. */
export const RATES = [9600, 2400, 19200, 115200, 4800, 38400, 57600, 1200] as const;
