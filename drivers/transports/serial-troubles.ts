/** Why a serial port does not open, told so that the user can act on it. */
import { readFile, stat } from 'node:fs/promises';
import { userInfo } from 'node:os';
import type { LinkStatus } from '../meter.ts';
import { trouble } from '../link-trouble.ts';

/** The port library gives text only, so the text is what there is to go by. */
export async function serialTrouble(path: string, error: Error): Promise<LinkStatus> {
  const text = error.message;
  if (/no such file|file not found|no such device/i.test(text)) return missingPort(path);
  if (/cannot lock|resource busy|access denied/i.test(text)) {
    return trouble('failed', 'PORT_BUSY', `Close whatever else reads ${path}, then Loomtrace goes on by itself.`);
  }
  if (/permission denied|not permitted/i.test(text)) return trouble('failed', 'PORT_FORBIDDEN', await permissionAdvice(path));
  if (/baud|parity|data ?bits|stop ?bits|invalid argument|setting/i.test(text)) {
    return trouble('failed', 'PORT_SETTINGS', `Check baud rate, data bits, parity and stop bits of ${path} (${text}).`);
  }
  return trouble('retry', 'PORT_FAILED', `${path}: ${text}. It is tried again.`);
}

export function missingPort(path: string): LinkStatus {
  return trouble('retry', 'PORT_MISSING', `Plug the meter in; it connects by itself when ${path} appears.`);
}

/** Names the group that owns the port and the command that lets the user in. */
async function permissionAdvice(path: string): Promise<string> {
  if (process.platform === 'win32') return `Check who may use ${path}.`;
  const user = userInfo().username;
  try {
    const { gid, mode } = await stat(path);
    const group = await groupName(gid);
    if ((mode & 0o060) !== 0o060) {
      return `Even the group ${group} of ${path} may not read and write it: run "sudo chmod g+rw ${path}", and if ${user} is not in the group, "sudo usermod -aG ${group} ${user}", then log out and in again.`;
    }
    return `${path} belongs to the group ${group}: run "sudo usermod -aG ${group} ${user}", then log out and in again.`;
  } catch {
    return `Let ${user} read and write ${path}.`;
  }
}

async function groupName(gid: number): Promise<string> {
  const groups = await readFile('/etc/group', 'utf8').catch(() => '');
  const line = groups.split('\n').find((entry) => entry.split(':')[2] === String(gid));
  return line?.split(':')[0] ?? String(gid);
}
