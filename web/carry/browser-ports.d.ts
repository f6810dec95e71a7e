/** The parts of Web Bluetooth and Web Serial that are used here: the DOM types of TypeScript have neither. */

interface BluetoothCharacteristic extends EventTarget {
  readonly uuid: string;
  readonly properties: { readonly notify: boolean; readonly indicate: boolean; readonly write: boolean; readonly writeWithoutResponse: boolean };
  readonly value: DataView | null;
  startNotifications(): Promise<BluetoothCharacteristic>;
  writeValueWithResponse(bytes: BufferSource): Promise<void>;
  writeValueWithoutResponse(bytes: BufferSource): Promise<void>;
}
interface BluetoothService {
  readonly uuid: string;
  getCharacteristics(): Promise<BluetoothCharacteristic[]>;
}
interface BluetoothServer {
  readonly connected: boolean;
  connect(): Promise<BluetoothServer>;
  disconnect(): void;
  getPrimaryServices(): Promise<BluetoothService[]>;
}
interface BluetoothPeer extends EventTarget {
  readonly id: string;
  readonly name?: string;
  readonly gatt?: BluetoothServer;
}
interface WebBluetooth extends EventTarget {
  getAvailability(): Promise<boolean>;
  requestDevice(options: { acceptAllDevices: true; optionalServices: string[] }): Promise<BluetoothPeer>;
}

interface WebSerialPort extends EventTarget {
  readonly readable: ReadableStream<Uint8Array> | null;
  readonly writable: WritableStream<Uint8Array> | null;
  open(settings: { baudRate: number; dataBits: 7 | 8; parity: 'none' | 'even' | 'odd'; stopBits: 1 | 2; bufferSize: number }): Promise<void>;
  setSignals(signals: { dataTerminalReady?: boolean; requestToSend?: boolean }): Promise<void>;
  close(): Promise<void>;
}
interface WebSerial extends EventTarget {
  requestPort(): Promise<WebSerialPort>;
}

interface Navigator {
  readonly bluetooth?: WebBluetooth;
  readonly serial?: WebSerial;
}
