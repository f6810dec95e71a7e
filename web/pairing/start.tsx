/** The page that a device sees before it is paired. */
import { render } from 'preact';
import { forgetCode, goOnIfPaired } from './pairing.ts';
import { PairingPage } from './pairing-page.tsx';
import './pairing.css';

const code = forgetCode();
render(<PairingPage code={code} />, document.getElementById('app')!);
void goOnIfPaired();
