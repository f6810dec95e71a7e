import js from '@eslint/js';
import tseslint from 'typescript-eslint';

/** Paths a folder may not import: the one dependency rule of DEVELOPERS.md, held by the linter. */
const forbid = (files, patterns) => ({
  files,
  rules: { 'no-restricted-imports': ['error', { patterns: patterns.map(([regex, message]) => ({ regex, message })) }] },
});

const nodeBuiltins = ['^node:', 'Pure modules do no input or output: take the data as an argument.'];
const packages = (allowed) => [
  `^(?!\\.{1,2}/)(?!node:)(?!(${allowed.join('|')})(/|$))`,
  'Pure modules use only the packages listed for them in eslint.config.js.',
];

export default tseslint.config(
  { ignores: ['web/dist/**', 'server/dist/**', 'node_modules/**', 'recordings/**', 'tests/.work/**'] },
  js.configs.recommended,
  ...tseslint.configs.recommended,
  {
    rules: {
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      eqeqeq: ['error', 'always'],
    },
  },
  {
    files: ['server/**/*.ts', 'drivers/**/*.ts'],
    languageOptions: { parserOptions: { project: './tsconfig.json' } },
    rules: {
      '@typescript-eslint/no-floating-promises': 'error',
      '@typescript-eslint/no-misused-promises': ['error', { checksVoidReturn: false }],
    },
  },
  { files: ['**/*.mjs', '**/*.js'], languageOptions: { globals: { process: 'readonly', console: 'readonly' } } },

  forbid(['drivers/**/*.ts'], [['/(server|web)/', 'Drivers import nothing of the rest.']]),
  forbid(['drivers/reading.ts', 'drivers/decoders/**/*.ts'], [
    nodeBuiltins, packages(['zod']), ['/(transports|server|web)/', 'Decoders are pure: bytes in, readings out.'],
  ]),
  forbid(['server/diagnosis/**/*.ts'], [
    nodeBuiltins, packages(['ml-matrix']),
    ['/(session|recordings|live|web|transports|decoders)/', 'Diagnosis knows only the Reading type of the drivers.'],
  ]),
  forbid(['server/session/**/*.ts'], [
    nodeBuiltins, packages(['zod', 'fast-xml-parser']),
    ['/(recordings|live|web|transports|decoders)/', 'The session is pure: it knows diagnosis and the Reading type.'],
  ]),
  forbid(['server/recordings/**/*.ts'], [['/(live|web|transports)/', 'Recordings know the session, not who serves or feeds it.']]),
  forbid(['server/live/**/*.ts'], [['/web/', 'The service does not import the dashboard.']]),
  forbid(['web/**/*.ts', 'web/**/*.tsx'], [
    ['/transports/', 'No native code in the browser.'],
    ['/server/(recordings|main)', 'The dashboard reads types and pure modules only.'],
  ]),
);
