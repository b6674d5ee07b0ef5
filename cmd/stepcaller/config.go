package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"github.com/go-viper/mapstructure/v2"
	"github.com/goccy/go-yaml"
	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
	"stepcaller/speech"
)

// Config is everything a shop can choose. Each key's doc is printed by `stepcaller config`; a flag tag makes it a flag too.
type Config struct {
	Data        string                  `yaml:"data" flag:"data" doc:"Folder of the journal and the spoken notes."`
	Procedures  string                  `yaml:"procedures" flag:"procedures" doc:"Folder of the shop's own procedure files, searched before the bundled ones."`
	Language    string                  `yaml:"language" flag:"language" doc:"Language of what is said and of the pages: en, de, or the path of a language file of the shop's own. Words that are heard stay as they are trained."`
	Technician  string                  `yaml:"technician" flag:"technician" doc:"Who works in this bay: the name that jobs are opened with, and whose voice the ears go by where it was taught."`
	Technicians []string                `yaml:"technicians" doc:"Who else may join a job by voice, in the order in which they are numbered."`
	Approvers   []string                `yaml:"approvers" doc:"Who may approve what is found besides, in the order in which they are numbered; with one, nobody is asked by whom."`
	Lexicon     string                  `yaml:"lexicon" flag:"lexicon" doc:"File of how the shop says its written words, one a line, such as ABS: anti-lock brakes; empty for the trade's usual ones."`
	Wrenches    []procedures.WrenchText `yaml:"wrenches" doc:"Torque wrenches to choose from, such as [{name: the long one, span: 40 to 200 N·m}]; also lowest, step, class, length, adapter, angle."`
	Reasons     []string                `yaml:"reasons" doc:"Reasons for a pause that are understood, among those trained."`
	Unit        string                  `yaml:"unit" flag:"unit" doc:"Unit in which torques are spoken: N·m, lbf·ft, lbf·in or kgf·m."`
	Answer      string                  `yaml:"answer" doc:"How long an answer counts after its question."`
	Regret      string                  `yaml:"regret" doc:"Talk that follows a word by less than this turns the word into a question."`
	Microphone  string                  `yaml:"microphone" flag:"microphone" doc:"Microphone, by its name or a part of it; empty for the machine's own choice."`
	Loudspeaker string                  `yaml:"loudspeaker" flag:"loudspeaker" doc:"Loudspeaker or headset, likewise."`
	Pages       string                  `yaml:"pages" flag:"pages" doc:"Address of this machine at which its browser finds the pages, or off."`
	Log         string                  `yaml:"log" flag:"log" doc:"What goes to the log: debug, info, warn or error. What is said and heard is told at debug alone."`
	Voice       VoiceConfig             `yaml:"voice"`
	Ears        EarsConfig              `yaml:"ears"`
	Words       []procedures.Override   `yaml:"words" doc:"Other phrases for a command, dealt out among those trained, such as [{command: tool list, say: [part list]}, {command: part list, say: [tool list]}]."`
}

// VoiceConfig is how replies are spoken.
type VoiceConfig struct {
	Command string `yaml:"command" flag:"voice-command" doc:"Text-to-speech program and its arguments, as a template: {text}, {voice}, {wpm}, {wav}. Without {text} the words come on its standard input; without {wav} it writes WAV to its standard output."`
	Name    string `yaml:"name" flag:"voice" doc:"Speaker, by the program's own name for it."`
	Pace    int    `yaml:"pace" doc:"Words a minute, until somebody says faster or slower."`
	Volume  int    `yaml:"volume" doc:"Per cent of the loudest allowed, until somebody says louder or quieter."`
}

// EarsConfig is what counts as a word.
type EarsConfig struct {
	Before string  `yaml:"before" doc:"Time without speech that a word needs before it."`
	After  string  `yaml:"after" doc:"Time without speech after a word, before it is obeyed."`
	Act    float64 `yaml:"act" doc:"Score, 0 to 1, from which a word is obeyed in quiet; noise and talk ask for more."`
	Ask    float64 `yaml:"ask" doc:"Score below which it is ignored; between the two it is asked about, unless it falls far short."`
}

// defaultConfig is what holds where nobody chose.
func defaultConfig() Config {
	s, ears, voice := narrator.DefaultSettings(), speech.DefaultEarsConfig(), speech.DefaultSettings()
	return Config{
		Data:       filepath.Join(xdg("XDG_DATA_HOME", ".local/share"), "stepcaller"),
		Procedures: filepath.Join(xdg("XDG_CONFIG_HOME", ".config"), "stepcaller", "procedures"),
		Language:   tongue.English,
		Reasons:    s.Reasons,
		Unit:       s.Unit.String(),
		Answer:     s.AnswerTime.Duration().String(),
		Regret:     s.Regret.Duration().String(),
		Pages:      "127.0.0.1:7390",
		Log:        "warn",
		Voice:      VoiceConfig{Command: speech.DefaultCommand, Name: voice.Voice, Pace: s.Pace, Volume: s.Volume},
		Ears:       EarsConfig{Before: ears.Before.String(), After: ears.After.String(), Act: ears.Act, Ask: ears.Ask},
	}
}

func xdg(name, fallback string) string {
	if dir := os.Getenv(name); filepath.IsAbs(dir) {
		return dir
	}
	home, err := os.UserHomeDir()
	if err != nil {
		home = "."
	}
	return filepath.Join(home, fallback)
}

// configFile is where the configuration is looked for when no flag names another place.
func configFile() string {
	return filepath.Join(xdg("XDG_CONFIG_HOME", ".config"), "stepcaller", "config.yaml")
}

// readConfig lays flags over the environment over the file over the defaults. A file that is named must be there. The error says where
// in the file what is wrong.
func readConfig(path string, flags *pflag.FlagSet) (Config, error) {
	v := viper.New()
	v.SetEnvPrefix("stepcaller")
	v.SetEnvKeyReplacer(strings.NewReplacer(".", "_", "-", "_"))
	v.AutomaticEnv()
	for _, key := range configKeys(defaultConfig()) {
		v.SetDefault(key.path, key.value)
		if f := flags.Lookup(key.flag); key.flag != "" && f != nil {
			if err := v.BindPFlag(key.path, f); err != nil {
				return Config{}, fmt.Errorf("flag --%s: %w", key.flag, err)
			}
		}
	}
	named := path != ""
	if !named {
		path = configFile()
	}
	if data, err := os.ReadFile(path); err == nil {
		// Read once for its places in the file, since viper knows none, and once by viper for its values.
		var strict Config
		if err := yaml.UnmarshalWithOptions(data, &strict, yaml.Strict()); err != nil {
			return Config{}, usage("%s: %s\n`stepcaller config` prints every key.", path, strings.TrimSpace(yaml.FormatError(err, false, true)))
		}
		v.SetConfigFile(path)
		if err := v.ReadInConfig(); err != nil {
			return Config{}, usage("%s: %v", path, err)
		}
	} else if named || !errors.Is(err, fs.ErrNotExist) {
		return Config{}, usage("the configuration cannot be read: %v", err)
	}
	var c Config
	if err := v.UnmarshalExact(&c, withYAMLTags); err != nil {
		return Config{}, usage("configuration: %v", err)
	}
	s, err := c.settings()
	if err == nil && s.Tongue != nil && !chosen(v, flags, "voice.name") {
		c.Voice.Name = s.Tongue.Tag()
	}
	return c, err
}

// chosen reports whether a flag, the environment or the file gives a key, so that its default does not hold.
func chosen(v *viper.Viper, flags *pflag.FlagSet, path string) bool {
	for _, key := range configKeys(defaultConfig()) {
		if f := flags.Lookup(key.flag); key.path == path && f != nil && f.Changed {
			return true
		}
	}
	_, inEnvironment := os.LookupEnv("STEPCALLER_" + strings.ToUpper(strings.NewReplacer(".", "_", "-", "_").Replace(path)))
	return inEnvironment || v.InConfig(path)
}

// withYAMLTags has viper name fields as the file does.
func withYAMLTags(c *mapstructure.DecoderConfig) { c.TagName = "yaml" }

// configKey is one leaf of Config.
type configKey struct {
	path, flag, doc string
	value           any
}

func configKeys(c Config) []configKey {
	var keys []configKey
	var walk func(prefix string, v reflect.Value)
	walk = func(prefix string, v reflect.Value) {
		for i := range v.NumField() {
			f := v.Type().Field(i)
			path := prefix + f.Tag.Get("yaml")
			if f.Type.Kind() == reflect.Struct {
				walk(path+".", v.Field(i))
				continue
			}
			keys = append(keys, configKey{path: path, flag: f.Tag.Get("flag"), doc: f.Tag.Get("doc"), value: v.Field(i).Interface()})
		}
	}
	walk("", reflect.ValueOf(c))
	return keys
}

// settings checks what the configuration says of words, times and units, and gives it to the narrator.
func (c Config) settings() (narrator.Settings, error) {
	s := narrator.DefaultSettings()
	var errs []error
	unit, err := procedures.ParseTorqueUnit(c.Unit)
	errs = append(errs, inKey("unit", err))
	answer, err := time.ParseDuration(c.Answer)
	errs = append(errs, inKey("answer", err))
	regret, err := time.ParseDuration(c.Regret)
	errs = append(errs, inKey("regret", err))
	for _, r := range c.Reasons {
		if m, ok := procedures.MeaningOf(procedures.Command(r)); !ok || m.Group != procedures.Reasons && m.Command != procedures.OtherJob {
			errs = append(errs, usage("configuration: reasons: %q is no reason that the ears know; choose among %v", r, procedures.DefaultReasons()))
		}
	}
	s.Tongue, err = tongue.Named(c.Language)
	errs = append(errs, inKey("language", err))
	if err == nil {
		_, err = c.aloud()
		errs = append(errs, err)
	}
	for _, text := range c.Wrenches {
		w, err := procedures.NewWrench(text)
		errs = append(errs, inKey("wrenches", err))
		s.Wrenches = append(s.Wrenches, w)
	}
	_, err = c.words()
	errs = append(errs, inKey("words", err))
	errs = append(errs, checkPages(c.Pages))
	_, err = parseLevel(c.Log)
	errs = append(errs, inKey("log", err))
	_, err = c.ears()
	errs = append(errs, err)
	errs = append(errs, inKey("voice", speech.Settings{Voice: c.Voice.Name, WordsPerMinute: c.Voice.Pace}.Check()))
	if c.Voice.Volume < 1 || c.Voice.Volume > 100 {
		errs = append(errs, usage("configuration: voice.volume: %d is not a percentage from 1 to 100", c.Voice.Volume))
	}
	s.Technicians, s.Approvers, s.Reasons, s.Unit = c.Technicians, c.Approvers, c.Reasons, unit
	s.AnswerTime, s.Regret = narrator.SpanOf(answer), narrator.SpanOf(regret)
	s.Volume, s.Pace = c.Voice.Volume, c.Voice.Pace
	return s, errors.Join(errs...)
}

// words resolves the shop's phrases.
func (c Config) words() (procedures.Words, error) {
	return procedures.NewWords(c.Words)
}

// aloud is how written words are said in the shop's language, its lexicon among them.
func (c Config) aloud() (procedures.Aloud, error) {
	t, err := tongue.Named(c.Language)
	if err != nil {
		return procedures.Aloud{}, inKey("language", err)
	}
	aloud := procedures.NewAloud(t.Tag())
	if c.Lexicon == "" {
		return aloud, nil
	}
	data, err := os.ReadFile(c.Lexicon)
	if err != nil {
		return aloud, inKey("lexicon", err)
	}
	lexicon, mistakes := aloud.LoadLexicon(c.Lexicon, data)
	if lexicon == nil {
		var lines []string
		for _, m := range mistakes {
			lines = append(lines, m.String())
		}
		return aloud, usage("configuration: lexicon: %s", strings.Join(lines, "\n"))
	}
	aloud.Lexicon = lexicon
	return aloud, nil
}

func (c Config) ears() (speech.EarsConfig, error) {
	e := speech.DefaultEarsConfig()
	before, err1 := time.ParseDuration(c.Ears.Before)
	after, err2 := time.ParseDuration(c.Ears.After)
	e.Before, e.After, e.Act, e.Ask = before, after, c.Ears.Act, c.Ears.Ask
	return e, errors.Join(inKey("ears.before", err1), inKey("ears.after", err2), inKey("ears", e.Check()))
}

func inKey(key string, err error) error {
	if err == nil {
		return nil
	}
	return usage("configuration: %s: %v", key, err)
}
