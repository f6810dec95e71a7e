/**
 * A Bluetooth LE meter that Chromium's own emulated adapter plays: the page's real Web Bluetooth finds it, connects, looks up its services and
 * subscribes. One thing cannot be had: no command pushes a notification. A value comes in as the answer to a read instead, which raises the
 * same event on the same object; real notifications, and a real radio, remain untried.
 */
import type { Browser, CDPSession, Page } from 'playwright-core';

const ADDRESS = '09:09:09:09:09:09';

export interface EmulatedMeter {
  /** What was written to the meter. */
  readonly written: string[];
  /** How often it was connected to. */
  connections(): number;
  /** Sends bytes, as one value. */
  send(bytes: string | Uint8Array): Promise<void>;
  /** The radio link breaks. */
  drop(): Promise<void>;
  /** From now on the meter does not let anyone connect, or does again. */
  setReachable(isReachable: boolean): void;
}

/** The emulator's commands are not in the types of the protocol that the library has. */
interface Commands { send(method: string, parameters?: object): Promise<Record<string, string>>; on(event: string, handler: (event: Record<string, string>) => void): void }

/** Needs a browser launched with --enable-blink-features=WebBluetooth, of its own: the emulated adapter is shared by all its pages. */
export async function emulateMeter(browser: Browser, page: Page, name: string, service: string, characteristic: string): Promise<EmulatedMeter> {
  const cdp = (await browser.newBrowserCDPSession()) as unknown as Commands;
  const dialog = (await page.context().newCDPSession(page)) as CDPSession as unknown as Commands;
  let characteristicId = '';
  let connections = 0;
  let isReachable = true;
  const written: string[] = [];
  const waiting: string[] = [];
  const answer = (parameters: object): void => void cdp.send('BluetoothEmulation.simulateGATTOperationResponse', { address: ADDRESS, ...parameters }).catch(() => undefined);

  cdp.on('BluetoothEmulation.gattOperationReceived', ({ type }) => {
    void (async () => {
      if (type === 'connection') {
        if (isReachable) connections++;
        return answer({ type, code: isReachable ? 0 : 8 });
      }
      // Services are gone after each disconnection: every discovery finds them anew.
      const { serviceId } = await cdp.send('BluetoothEmulation.addService', { address: ADDRESS, serviceUuid: service });
      ({ characteristicId } = await cdp.send('BluetoothEmulation.addCharacteristic', {
        serviceId, characteristicUuid: characteristic, properties: { read: true, write: true, writeWithoutResponse: true, notify: true },
      }) as { characteristicId: string });
      // Client characteristic configuration: without it nothing can be subscribed to.
      await cdp.send('BluetoothEmulation.addDescriptor', { characteristicId, descriptorUuid: '00002902-0000-1000-8000-00805f9b34fb' });
      answer({ type, code: 0 });
    })();
  });
  cdp.on('BluetoothEmulation.characteristicOperationReceived', (event) => {
    const { type, data, characteristicId: id } = event;
    if (type === 'write' && data !== undefined) written.push(Buffer.from(data, 'base64').toString('latin1'));
    const value = type === 'read' ? { data: waiting.shift() ?? '' } : {};
    void cdp.send('BluetoothEmulation.simulateCharacteristicOperationResponse', { characteristicId: id, type, code: 0, ...value }).catch(() => undefined);
  });
  cdp.on('BluetoothEmulation.descriptorOperationReceived', ({ type, descriptorId }) => (
    void cdp.send('BluetoothEmulation.simulateDescriptorOperationResponse', { descriptorId, type, code: 0 }).catch(() => undefined)
  ));
  await cdp.send('BluetoothEmulation.enable', { state: 'powered-on', leSupported: true });
  await cdp.send('BluetoothEmulation.simulatePreconnectedPeripheral', { address: ADDRESS, name, manufacturerData: [], knownServiceUuids: [service] });

  // The prompt is told twice; a second answer to it ends the browser.
  let isAnswered = false;
  dialog.on('DeviceAccess.deviceRequestPrompted', (event) => {
    const { id, devices } = event as unknown as { id: string; devices: { id: string }[] };
    if (isAnswered || devices[0] === undefined) return;
    isAnswered = true;
    void dialog.send('DeviceAccess.selectPrompt', { id, deviceId: devices[0].id });
  });
  await dialog.send('DeviceAccess.enable');

  return {
    written,
    connections: () => connections,
    send: async (bytes) => {
      waiting.push(Buffer.from(bytes as string, 'latin1').toString('base64'));
      await page.evaluate(() => (window as unknown as { notifying: { readValue(): Promise<unknown> } }).notifying.readValue());
    },
    drop: async () => void (await cdp.send('BluetoothEmulation.simulateGATTDisconnection', { address: ADDRESS })),
    setReachable: (reachable) => { isReachable = reachable; },
  };
}

/** To run in the page before anything of it: keeps the characteristic that the page subscribed to last. */
export function keepSubscribed(): void {
  const { prototype } = (window as unknown as { BluetoothRemoteGATTCharacteristic: { prototype: { startNotifications(): Promise<unknown> } } }).BluetoothRemoteGATTCharacteristic;
  const begin = prototype.startNotifications;
  prototype.startNotifications = async function (this: unknown) {
    const result = await begin.call(this as never);
    Object.assign(window, { notifying: this });
    return result;
  };
}
