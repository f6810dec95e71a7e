/** What a command says when the system will not give it a file, or take one. */

export function isFileError(error: unknown): error is NodeJS.ErrnoException {
  return error instanceof Error && typeof (error as NodeJS.ErrnoException).syscall === 'string';
}

/** What any error that a command may meet is told as. */
export function errorText(error: Error): string { return isFileError(error) ? fileErrorText(error) : error.message; }

/** One line that says what to do, without the system's own name of the trouble where it is a common one. */
export function fileErrorText(error: NodeJS.ErrnoException): string {
  const path = error.path ?? 'the file';
  if (error.code === 'ENOENT') return `there is no file or folder ${path}`;
  if (error.code === 'EISDIR') return `${path === 'the file' ? 'that' : path} is a folder, not a file`;
  if (error.code === 'EACCES' || error.code === 'EPERM') return `no permission for ${path}`;
  return `${path} can't be used: ${error.message}`;
}
