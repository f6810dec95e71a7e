/**
 * The page's content policy forbids code made from text, which the reader of charts would otherwise try. To be imported before
 * anything that describes data to it.
 */
import { config } from 'zod';

config({ jitless: true });
