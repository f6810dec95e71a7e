import { describe, expect, it } from 'vitest';
import { isLoopback, ownHosts, refuseForeign } from '../../../server/live/access/index.ts';

const hosts = ownHosts('127.0.0.1', 8470);

describe('refuseForeign', () => {
  // [host, origin, needs an origin, allowed]
  const cases: [string | undefined, string | undefined, boolean, boolean][] = [
    ['127.0.0.1:8470', undefined, false, true],
    ['localhost:8470', undefined, false, true],
    ['[::1]:8470', 'http://[::1]:8470', true, true],
    ['127.0.0.1:8470', 'http://127.0.0.1:8470', true, true],
    ['LOCALHOST:8470', 'http://localhost:8470', true, true],
    // another page in the same browser
    ['127.0.0.1:8470', 'http://evil.example', false, false],
    ['127.0.0.1:8470', 'null', true, false],
    ['127.0.0.1:8470', 'http://127.0.0.1:9999', true, false],
    ['127.0.0.1:8470', 'https://127.0.0.1:8470', true, false],
    ['127.0.0.1:8470', 'http://127.0.0.1.evil.example:8470', true, false],
    ['127.0.0.1:8470', 'http://127.0.0.1:8470.evil.example', true, false],
    // a foreign name that resolves to this machine: Host and Origin agree, and both are foreign
    ['evil.example:8470', 'http://evil.example:8470', true, false],
    ['evil.example:8470', undefined, false, false],
    ['127.0.0.1:8471', undefined, false, false],
    ['127.0.0.1', undefined, false, false],
    [undefined, undefined, false, false],
    // no page at all: may read, may not open a websocket or change anything
    ['127.0.0.1:8470', undefined, true, false],
  ];
  it.each(cases)('host %s, origin %s, needs origin %s: allowed %s', (host, origin, needsOrigin, allowed) => {
    expect(refuseForeign(hosts, host, origin, needsOrigin) === null).toBe(allowed);
  });
});

describe('isLoopback', () => {
  it.each([['127.0.0.1', true], ['127.8.9.10', true], ['localhost', true], ['::1', true],
    ['0.0.0.0', false], ['192.168.1.2', false], ['127.0.0.1.evil.example', false], ['127.0.0', false], ['127.0.0.999', false], ['', false]])(
    '%s: %s', (host, loopback) => expect(isLoopback(host)).toBe(loopback));
});
