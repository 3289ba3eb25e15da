"""A Bluetooth service with devices of our own, spoken to over a real bus as the system's one is.

Object paths, interfaces and properties are those of BlueZ's documented D-Bus interface
(org.bluez.Adapter1, Device1, GattService1, GattCharacteristic1).
"""

import asyncio
import subprocess
import threading
from collections.abc import Coroutine
from typing import Annotated, Any, Self

from dbus_fast import BusType, PropertyAccess
from dbus_fast.aio import MessageBus
from dbus_fast.annotations import (
    DBusBool,
    DBusBytes,
    DBusDict,
    DBusInt16,
    DBusObjectPath,
    DBusSignature,
    DBusStr,
)
from dbus_fast.service import ServiceInterface, dbus_method, dbus_property

READ = PropertyAccess.READ
DBusStrings = Annotated[list[str], DBusSignature("as")]
ADAPTER = "/org/bluez/hci0"


class _Adapter(ServiceInterface):
    def __init__(self) -> None:
        super().__init__("org.bluez.Adapter1")

    @dbus_method()
    def SetDiscoveryFilter(self, properties: DBusDict) -> None: ...  # noqa: N802

    @dbus_method()
    def StartDiscovery(self) -> None: ...  # noqa: N802

    @dbus_method()
    def StopDiscovery(self) -> None: ...  # noqa: N802

    @dbus_method()
    def RemoveDevice(self, device: DBusObjectPath) -> None: ...  # noqa: N802

    @dbus_property(READ)
    def Address(self) -> DBusStr:  # noqa: N802
        return "00:11:22:33:44:55"

    @dbus_property(READ)
    def Roles(self) -> DBusStrings:  # noqa: N802
        return ["central"]

    @dbus_property(READ)
    def Powered(self) -> DBusBool:  # noqa: N802
        return True

    @dbus_property(READ)
    def Discovering(self) -> DBusBool:  # noqa: N802
        return True


class _Device(ServiceInterface):
    def __init__(self, name: str, address: str, services: list[str]) -> None:
        super().__init__("org.bluez.Device1")
        self._name, self._address, self._services = name, address, services
        self.connected = False
        self._rssi = -50

    @dbus_method()
    def Connect(self) -> None:  # noqa: N802
        self.connected = True
        self.emit_properties_changed({"Connected": True, "ServicesResolved": True})

    @dbus_method()
    def Disconnect(self) -> None:  # noqa: N802
        self.drop()

    def advertise(self) -> None:
        """As a device does that is in reach: the system sees its strength change."""
        self._rssi = -91 - self._rssi
        self.emit_properties_changed({"RSSI": self._rssi})

    def drop(self) -> None:
        self.connected = False
        self.emit_properties_changed({"ServicesResolved": False, "Connected": False})

    @dbus_property(READ)
    def Adapter(self) -> DBusObjectPath:  # noqa: N802
        return ADAPTER

    @dbus_property(READ)
    def Address(self) -> DBusStr:  # noqa: N802
        return self._address

    @dbus_property(READ)
    def AddressType(self) -> DBusStr:  # noqa: N802
        return "public"

    @dbus_property(READ)
    def Name(self) -> DBusStr:  # noqa: N802
        return self._name

    @dbus_property(READ)
    def Alias(self) -> DBusStr:  # noqa: N802
        return self._name

    @dbus_property(READ)
    def RSSI(self) -> DBusInt16:  # noqa: N802
        return self._rssi

    @dbus_property(READ)
    def Paired(self) -> DBusBool:  # noqa: N802
        return False

    @dbus_property(READ)
    def Bonded(self) -> DBusBool:  # noqa: N802
        return False

    @dbus_property(READ)
    def Connected(self) -> DBusBool:  # noqa: N802
        return self.connected

    @dbus_property(READ)
    def ServicesResolved(self) -> DBusBool:  # noqa: N802
        return self.connected

    @dbus_property(READ)
    def UUIDs(self) -> DBusStrings:  # noqa: N802
        return self._services


class _Service(ServiceInterface):
    def __init__(self, uuid: str, device: str) -> None:
        super().__init__("org.bluez.GattService1")
        self._uuid, self._device = uuid, device

    @dbus_property(READ)
    def UUID(self) -> DBusStr:  # noqa: N802
        return self._uuid

    @dbus_property(READ)
    def Device(self) -> DBusObjectPath:  # noqa: N802
        return self._device

    @dbus_property(READ)
    def Primary(self) -> DBusBool:  # noqa: N802
        return True


class _Characteristic(ServiceInterface):
    def __init__(self, uuid: str, service: str, written: list[tuple[str, bytes]]) -> None:
        super().__init__("org.bluez.GattCharacteristic1")
        self._uuid, self._service, self._written = uuid, service, written
        self.notifying = False

    @dbus_method()
    def ReadValue(self, options: DBusDict) -> DBusBytes:  # noqa: N802
        return b""

    @dbus_method()
    def WriteValue(self, value: DBusBytes, options: DBusDict) -> None:  # noqa: N802
        self._written.append((self._uuid, bytes(value)))

    @dbus_method()
    def StartNotify(self) -> None:  # noqa: N802
        self.notifying = True

    @dbus_method()
    def StopNotify(self) -> None:  # noqa: N802
        self.notifying = False

    def tell(self, packet: bytes) -> None:
        self.emit_properties_changed({"Value": packet})

    @dbus_property(READ)
    def UUID(self) -> DBusStr:  # noqa: N802
        return self._uuid

    @dbus_property(READ)
    def Service(self) -> DBusObjectPath:  # noqa: N802
        return self._service

    @dbus_property(READ)
    def Value(self) -> DBusBytes:  # noqa: N802
        return b""

    @dbus_property(READ)
    def Notifying(self) -> DBusBool:  # noqa: N802
        return self.notifying

    @dbus_property(READ)
    def Flags(self) -> DBusStrings:  # noqa: N802
        return ["read", "write", "notify"]


class Bluetooth:
    """A bus of its own with an adapter and the devices that are put beside it."""

    def __init__(self) -> None:
        self._daemon = subprocess.Popen(
            ["dbus-daemon", "--session", "--nofork", "--print-address=1"],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._daemon.stdout is not None
        self.address = self._daemon.stdout.readline().strip()
        self.written: list[tuple[str, bytes]] = []
        """Every write to any device: (characteristic, value)."""
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._bus: MessageBus = self._do(self._open())
        self._devices: dict[str, _Device] = {}
        self._advertising = asyncio.run_coroutine_threadsafe(self._advertise(), self._loop)
        self._characteristics: dict[tuple[str, str], _Characteristic] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._advertising.cancel()
        self._loop.call_soon_threadsafe(self._bus.disconnect)
        self._do(self._gone())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(5)
        self._loop.close()
        self._daemon.terminate()
        self._daemon.wait(5)
        assert self._daemon.stdout is not None
        self._daemon.stdout.close()

    def add(self, name: str, number: int, service: str, characteristics: tuple[str, ...]) -> None:
        """Put a device within reach."""
        self._do(self._add(name, number, service, characteristics))

    def tell(self, name: str, uuid: str, packet: bytes) -> None:
        """Have a device send a packet."""
        self._do(self._call(self._characteristics[name, uuid].tell, packet))

    def drop(self, name: str) -> None:
        """Have a device go out of reach."""
        self._do(self._call(self._devices[name].drop))

    def subscribed(self, name: str, uuid: str) -> bool:
        """Whether somebody listens to what a device tells."""
        return self._devices[name].connected and self._characteristics[name, uuid].notifying

    async def _gone(self) -> None:
        await self._bus.wait_for_disconnect()  # type: ignore[no-untyped-call]

    async def _open(self) -> MessageBus:
        bus = await MessageBus(self.address, BusType.SYSTEM).connect()
        bus.export(ADAPTER, _Adapter())
        await bus.request_name("org.bluez")
        return bus

    async def _add(
        self, name: str, number: int, service: str, characteristics: tuple[str, ...]
    ) -> None:
        path = f"{ADAPTER}/dev_00_00_00_00_00_{number:02X}"
        device = _Device(name, f"00:00:00:00:00:{number:02X}", [service])
        self._devices[name] = device
        self._bus.export(path, device)
        self._bus.export(f"{path}/service0001", _Service(service, path))
        for count, uuid in enumerate(characteristics):
            one = _Characteristic(uuid, f"{path}/service0001", self.written)
            self._characteristics[name, uuid] = one
            self._bus.export(f"{path}/service0001/char{count + 2:04x}", one)

    async def _advertise(self) -> None:
        while True:
            await asyncio.sleep(0.1)
            for device in self._devices.values():
                if not device.connected:
                    device.advertise()

    async def _call(self, what: Any, *given: Any) -> None:
        what(*given)

    def _do(self, work: Coroutine[Any, Any, Any]) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(10)
