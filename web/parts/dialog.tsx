/** A modal dialog: the browser's own, which keeps the focus inside and gives it back. */
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { notice } from '../state.ts';
import { Trouble } from './trouble.tsx';

interface Props {
  readonly title: string;
  readonly closeText: string;
  readonly onClose: () => void;
  readonly children: ComponentChildren;
}

/** Open as long as it is on the page. */
export function Dialog({ title, closeText, onClose, children }: Props) {
  const element = useRef<HTMLDialogElement>(null);
  /** What was refused before has been seen on the page, which the dialog now covers. */
  const before = useRef(notice.value);
  useEffect(() => {
    const dialog = element.current!;
    dialog.showModal();
    return () => dialog.close();
  }, []);
  return (
    <dialog ref={element} class="dialog" aria-labelledby="dialog-title" onClose={onClose} onCancel={onClose}>
      <div class="dialog-head">
        <h2 id="dialog-title">{title}</h2>
        <button type="button" class="quiet" onClick={onClose}>{closeText}</button>
      </div>
      <div role="alert">{notice.value !== before.current && <Trouble />}</div>
      <div class="dialog-body">{children}</div>
    </dialog>
  );
}
