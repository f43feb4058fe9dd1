// Starts the built `handcall` command with a data folder of its own and reads from its output
// where it listens and how to sign in.
import { spawn } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { existsSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const root = resolve(import.meta.dirname, "../..");

/** Path of the built command: $HANDCALL_BIN, or the debug build. */
export function binary() {
  const target = process.env.CARGO_TARGET_DIR ?? join(root, "target");
  const path = process.env.HANDCALL_BIN ?? join(target, "debug", "handcall");
  if (!existsSync(path)) throw new Error(`${path} is missing: run tests/run, or cargo build first`);
  return path;
}

/**
 * Starts the server and waits until it listens.
 * @returns {{origin: string, signIn: string, data: string, log: () => string,
 *   kill: (signal?: string) => Promise<void>, restart: () => Promise<object>, stop: () => Promise<void>}}
 */
export async function startServer({ data, command = "serve", args = [], port = 0, isOwner = !data } = {}) {
  const folder = data ?? (await mkdtemp(join(tmpdir(), "handcall-browser-")));
  const child = spawn(binary(), [command, "--data", folder, "--port", String(port), ...args], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  let log = "";
  const exited = new Promise((done) => child.once("exit", (code, signal) => done({ code, signal })));
  const facts = await new Promise((done, fail) => {
    const timer = setTimeout(() => fail(new Error(`no address within 60 s; output:\n${log}`)), 60_000);
    const look = (chunk) => {
      log += chunk;
      const signIn = log.match(/(https?:\/\/[\d.]+:\d+)(\/sign-in\/\S+)/);
      if (signIn) {
        clearTimeout(timer);
        done({ origin: signIn[1], signIn: signIn[1] + signIn[2] });
      }
    };
    child.stdout.on("data", look);
    child.stderr.on("data", look);
    exited.then(({ code, signal }) => {
      clearTimeout(timer);
      fail(new Error(`the server ended at once (${code ?? signal}); output:\n${log}`));
    });
  });
  const kill = async (signal = "SIGKILL") => {
    child.kill(signal);
    await exited;
  };
  return {
    ...facts,
    data: folder,
    log: () => log,
    kill,
    restart: async () => {
      await kill();
      return startServer({ data: folder, command, args });
    },
    /** Starts it again where it was: what a browser keeps belongs to an address and its port. */
    again: () => startServer({ data: folder, command, args, port: new URL(facts.origin).port, isOwner }),
    stop: async () => {
      await kill("SIGTERM");
      if (isOwner) await rm(folder, { recursive: true, force: true });
    },
  };
}
