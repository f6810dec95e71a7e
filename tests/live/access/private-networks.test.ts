import { describe, expect, it } from 'vitest';
import { isPrivateAddress, ownPrivateAddresses } from '../../../server/live/access/private-networks.ts';

describe('isPrivateAddress', () => {
  // First and last address of each block, and its neighbours, from the IANA IPv4 and IPv6 Special-Purpose Address Registries.
  it.each([
    ['9.255.255.255', false], ['10.0.0.0', true], ['10.255.255.255', true], ['11.0.0.0', false],
    ['100.63.255.255', false], ['100.64.0.0', true], ['100.127.255.255', true], ['100.128.0.0', false],
    ['126.255.255.255', false], ['127.0.0.1', true], ['127.255.255.255', true], ['128.0.0.0', false],
    ['169.253.255.255', false], ['169.254.0.0', true], ['169.254.255.255', true], ['169.255.0.0', false],
    ['172.15.255.255', false], ['172.16.0.0', true], ['172.31.255.255', true], ['172.32.0.0', false],
    ['192.167.255.255', false], ['192.168.0.0', true], ['192.168.255.255', true], ['192.169.0.0', false],
    ['fbff::1', false], ['fc00::', true], ['fdff:ffff::1', true], ['fe00::1', false], ['fe80::1', true], ['febf::1', true], ['fec0::1', false],
    ['::1', true], ['::2', false], ['2001:db8::1', false], ['0.0.0.0', false], ['::', false],
    ['localhost', false], ['', false], ['192.168.1', false], ['192.168.1.5:80', false],
  ])('%s: %s', (address, isPrivate) => expect(isPrivateAddress(address)).toBe(isPrivate));
});

describe('ownPrivateAddresses', () => {
  it('names private addresses only, none of them this machine’s loopback', () => {
    for (const { address } of ownPrivateAddresses()) {
      expect(isPrivateAddress(address)).toBe(true);
      expect(address.startsWith('127.')).toBe(false);
    }
  });
});
