# Two commands do everything on a fresh Debian machine with Rust: `make demo` and `make test`.

CARGO ?= cargo
LOADWALK = target/release/loadwalk

.PHONY: demo test walks check docs setup build model headset bench hearing clean

## demo: installs what is missing, fetches the models, builds, and walks a whole load on spoken fixtures
demo: build model
	sh scripts/demo.sh $(LOADWALK) demo-out

# All there are; the examples are looked at by `make check`. Building the program by itself first would build half of it twice,
# as the tests want other features of some libraries.
TESTS = --lib --bins --test it

## test: every test, with the models fetched first
test: setup
	$(CARGO) test $(TESTS) --no-run
	target/debug/loadwalk model fetch
	$(CARGO) test $(TESTS)
	python3 tests/view.py target/debug/loadwalk

## walks: whole walks through real sound paths, a virtual headset of null sinks; needs pulseaudio
walks: setup
	$(CARGO) test --no-run
	sh tests/virtual-headset.sh $(CARGO) test --test it audio::
	sh tests/virtual-headset.sh $(CARGO) test --test it robot::

## check: formatting, lints, and the builds without ears or sound devices
check: setup
	$(CARGO) fmt --check
	$(CARGO) clippy --all-targets -- -D warnings
	$(CARGO) clippy --no-default-features --all-targets -- -D warnings
	$(CARGO) clippy --no-default-features --features whisper -- -D warnings
	$(CARGO) clippy --no-default-features --features devices -- -D warnings

## docs: the interface, without warnings
docs: setup
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --no-deps --document-private-items

setup:
	sh scripts/setup.sh

build: setup
	$(CARGO) build --release

model: build
	$(LOADWALK) model fetch

## headset: adds the system's speech service to the build (needs its development files)
headset: setup
	sh scripts/setup.sh speech-service
	$(CARGO) build --release --features speech-service

## bench: speed of the figures
bench:
	$(CARGO) bench

## hearing: builds the evaluation set (SHARE of its files a voice) and measures the ears, and rivals, on
## every EVERY-th sound of its test speakers
SHARE ?= 0.1
EVERY ?= 3
hearing: model
	$(LOADWALK) model fetch tiny.en-published
	$(LOADWALK) model fetch base-published
	python3 hearing/build.py hearing-out --share $(SHARE)
	$(CARGO) run --release --example hearing -- hearing-out --every $(EVERY) --every-other $(EVERY) \
	    --second models/ggml-base-pad-q8_0.bin --rivals hearing-out/.venv/bin/python
	hearing-out/.venv/bin/python hearing/report.py hearing-out/heard.jsonl hearing-out/report

clean:
	$(CARGO) clean
	rm -rf demo-out hearing-out
