package cmd

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write the golden files anew")

// binaryDir holds the built command where a test needed it.
var binaryDir string

type tests struct{ *testing.M }

func (t tests) Run() int {
	defer func() {
		if binaryDir != "" {
			os.RemoveAll(binaryDir)
		}
	}()
	return t.M.Run()
}

func TestMain(m *testing.M) {
	testscript.Main(tests{m}, map[string]func(){
		"romwright": func() { os.Exit(Main()) },
	})
}

// TestScripts runs the commands as a user does, one file of testdata/script a
// subject. Beside the commands that testscript brings, scripts have:
//
//	status N COMMAND ARGS...   run it; its exit status must be N
//	hexdump FILE               write the file's bytes to stdout, runs of one byte as a range
//	size FILE N                the file must hold N bytes
//	pad FILE N                 append N bytes of "; remark" lines, for sources that are long
//	poll FILE HEX...           wait until hexdump of the file is this one line
//	programmer VAR DOES...     a chip programmer on a pseudo-terminal, see scriptProgrammer
//	programmer-done            wait until it has done all
//
// and the condition [root], of a user whom no file's mode keeps out.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       *update,
		Setup: func(env *testscript.Env) error {
			env.Setenv("NO_COLOR", "")
			env.Values[lastProgrammer{}] = new(*programmer)
			return nil
		},
		Condition: func(cond string) (bool, error) {
			if cond == "root" {
				return os.Getuid() == 0, nil
			}
			return false, fmt.Errorf("unknown condition %s", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status":  scriptStatus,
			"hexdump": scriptHexdump,
			"size":    scriptSize,
			"pad":     scriptPad,
			"poll":    scriptPoll,

			"programmer":      scriptProgrammer,
			"programmer-done": scriptProgrammerDone,
		},
	})
}

func scriptStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N COMMAND ARGS...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	var e *exec.ExitError
	switch {
	case errors.As(err, &e):
		got = e.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

func scriptHexdump(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: hexdump FILE")
	}
	fmt.Fprint(ts.Stdout(), hexdump([]byte(ts.ReadFile(args[0]))))
}

// hexdump writes 16 bytes a row behind their offset; rows that hold one value
// throughout are drawn together.
func hexdump(data []byte) string {
	const width = 16
	// uniform: how far from i the bytes are one value
	uniform := func(i int) int {
		n := i
		for n < len(data) && data[n] == data[i] {
			n++
		}
		return n
	}
	var b strings.Builder
	for i := 0; i < len(data); {
		if n := uniform(i); n-i >= 2*width || n == len(data) && n-i > width {
			if n < len(data) {
				n -= n % width
			}
			fmt.Fprintf(&b, "%04X-%04X all %02X\n", i, n-1, data[i])
			i = n
			continue
		}
		n := min(i+width, len(data))
		fmt.Fprintf(&b, "%04X  % X\n", i, data[i:n])
		i = n
	}
	return b.String()
}

func scriptSize(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: size FILE N")
	}
	st, err := os.Stat(ts.MkAbs(args[0]))
	ts.Check(err)
	if strconv.FormatInt(st.Size(), 10) != args[1] {
		ts.Fatalf("%s holds %d bytes, want %s", args[0], st.Size(), args[1])
	}
}

func scriptPoll(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: poll FILE HEX...")
	}
	want := strings.Join(args[1:], " ")
	var got string
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if data, err := os.ReadFile(ts.MkAbs(args[0])); err == nil {
			if got = strings.Join(strings.Fields(hexdump(data)), " "); got == want {
				return
			}
		}
	}
	ts.Fatalf("%s holds %s, want %s", args[0], got, want)
}

func scriptPad(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: pad FILE N")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	const line = "; remark\n"
	text := strings.Repeat(line, n/len(line)+1)[:n]
	f, err := os.OpenFile(ts.MkAbs(args[0]), os.O_APPEND|os.O_WRONLY|os.O_CREATE, 0o666)
	ts.Check(err)
	_, err = f.WriteString(text)
	ts.Check(err)
	ts.Check(f.Close())
}
