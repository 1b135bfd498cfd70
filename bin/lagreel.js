#!/usr/bin/env node
import { run } from '../dist/program/main.js';

process.exitCode = await run(process.argv.slice(2));
