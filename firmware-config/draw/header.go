package main

// header is the 40-pin header, pin 1 first: Raspberry Pi documentation,
// "GPIO and the 40-pin header". Odd pins are the inner row.
var header = [40]string{
	"3.3 V", "5 V", "GPIO 2 SDA", "5 V", "GPIO 3 SCL", "GND", "GPIO 4", "GPIO 14", "GND", "GPIO 15",
	"GPIO 17", "GPIO 18", "GPIO 27", "GND", "GPIO 22", "GPIO 23", "3.3 V", "GPIO 24", "GPIO 10", "GND",
	"GPIO 9", "GPIO 25", "GPIO 11", "GPIO 8", "GND", "GPIO 7", "GPIO 0", "GPIO 1", "GPIO 5", "GND",
	"GPIO 6", "GPIO 12", "GPIO 13", "GND", "GPIO 19", "GPIO 16", "GPIO 26", "GPIO 20", "GND", "GPIO 21",
}
